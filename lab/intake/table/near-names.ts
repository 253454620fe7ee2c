// New names that differ from another one only in capitals or spaces: likely the same thing, spelt in two ways.
import type { LabCore } from '../../lab-core.ts'
import type { Draft } from '../draft.ts'

/** A sentence for each new name that has such a neighbour, in the workspace or among the new ones before it. */
export function nearNames({ store }: LabCore, draft: Draft): readonly string[] {
  return KINDS.flatMap((kind) => {
    const made = draft.made(kind).map((record) => named(record))
    const fresh = new Set(made.map(({ id }) => id))
    const known = new Map(store.list(kind).filter(({ id }) => !fresh.has(id)).map((record) => [foldedKey(named(record)), named(record).name]))
    return made.flatMap((record) => {
      const key = foldedKey(record)
      const near = known.get(key)
      known.set(key, near ?? record.name)
      return near === undefined || near === record.name ? [] : [`New ${kind} "${record.name}" beside "${near}": they differ in capitals or spaces only. Are they one?`]
    })
  })
}

const KINDS = ['part', 'sample', 'tune', 'workload', 'rig'] as const

interface Named {
  readonly id: string
  readonly name: string
  /** Within which the name must be its own. */
  readonly within: string
}

function named(record: ReturnType<Draft['made']>[number]): Named {
  if (record.kind === 'sample') return { id: record.id, name: record.label, within: record.partId }
  return { id: record.id, name: 'name' in record ? record.name : '', within: '' }
}

function foldedKey({ name, within }: Named): string {
  return JSON.stringify([within, name.toLowerCase().replaceAll(/\s+/g, '')])
}
