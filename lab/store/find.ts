// Search through everything but runs: each record as the words that a person may look for in it, read once and kept until the lab changes.
import { FOUND_KINDS, scopeText, settingText, type Found, type FoundGroup, type FoundHit, type FoundKind, type LabRecord, type RecordKind } from '@guardband/model'
import { describeRecord, sampleText, type Look } from './describe.ts'
import type { RecordStore } from './record-store.ts'
import type { Memory } from './remember.ts'
import { lower, wordsOf } from './run-finder.ts'

/** One record, ready to be looked through. */
export interface Findable {
  readonly kind: FoundKind
  readonly id: string
  readonly name: string
  readonly owner: FoundHit['owner']
  readonly lowerName: string
  /** What else is looked at, each with what it is called. */
  readonly texts: readonly { readonly label: string; readonly text: string; readonly lower: string }[]
  /** Name and texts in one, in lower case: most records are passed over by it alone. */
  readonly all: string
}

/** Each kind is read anew only when a record changed that its words come from. */
export function createFindables(store: RecordStore, memory: Memory): () => readonly Findable[] {
  const kinds = FOUND_KINDS.map((kind) =>
    memory.untilKinds([kind, ...(WORDS_FROM[kind] ?? [])], () => {
      const kept = new Map<string, LabRecord | undefined>()
      const look: Look = (id) => {
        if (!kept.has(id)) kept.set(id, store.get(id))
        return kept.get(id)
      }
      return store.list(kind).map((record) => findable(record, look))
    }),
  )
  return () => kinds.flatMap((read) => read())
}

/** Other kinds that the words of a kind are taken from. */
const WORDS_FROM: Readonly<Partial<Record<FoundKind, readonly RecordKind[]>>> = {
  sample: ['part', 'bin'],
  suite: ['workload'],
  bin: ['part'],
  question: ['part', 'tune'],
  sheet: ['rig'],
  start: ['rig', 'assembly', 'sample', 'part', 'tune'],
  dose: ['sample', 'part'],
  mount: ['assembly', 'rig', 'sample', 'part'],
}

/** `runs` counts the runs that the search of runs finds under the same words. */
export function find(all: readonly Findable[], wanted: { readonly q: string; readonly kind?: FoundKind }, runs: () => number): Found {
  const words = wordsOf(wanted.q)
  if (words.length === 0) return { groups: [], runs: 0 }
  const found = new Map<FoundKind, { readonly item: Findable; readonly rank: number }[]>()
  for (const item of all) {
    if (wanted.kind !== undefined && item.kind !== wanted.kind) continue
    if (!words.every((word) => item.all.includes(word))) continue
    const list = found.get(item.kind) ?? []
    list.push({ item, rank: rankOf(item, words) })
    found.set(item.kind, list)
  }
  const groups = FOUND_KINDS.flatMap((kind): FoundGroup[] => {
    const hits = found.get(kind)
    if (hits === undefined) return []
    const shown = hits.toSorted((a, b) => a.rank - b.rank || byName(kind, a.item, b.item)).slice(0, wanted.kind === undefined ? HITS_OF_EACH : HITS_OF_ONE)
    return [{ kind, total: hits.length, hits: shown.map(({ item }) => hit(item, words)) }]
  })
  return { groups: groups.toSorted((a, b) => bestRank(found, a) - bestRank(found, b)), runs: wanted.kind === undefined ? runs() : 0 }
}

/** Those that a page shows before it links to all of a kind, and all that it shows then. */
const HITS_OF_EACH = 6
const HITS_OF_ONE = 200

/** The name begins so, words of the name begin so, they stand in the name, they stand elsewhere. */
function rankOf({ lowerName }: Findable, words: readonly string[]): number {
  if (lowerName.startsWith(words.join(' '))) return 0
  if (words.every((word) => lowerName.startsWith(word) || lowerName.includes(` ${word}`))) return 1
  return words.every((word) => lowerName.includes(word)) ? 2 : ELSEWHERE
}

const ELSEWHERE = 3

/** What happened comes newest first, which ids tell; what has a name of its own comes by that. */
function byName(kind: FoundKind, a: Findable, b: Findable): number {
  if (HAPPENED.has(kind)) return a.id < b.id ? 1 : -1
  return order.compare(a.name, b.name)
}

const HAPPENED: ReadonlySet<FoundKind> = new Set<FoundKind>(['start', 'sheet', 'report', 'evidence', 'dose', 'mount'])

/** Kinds keep their order, except that one whose only hits are elsewhere comes after those that are named so. */
function bestRank(found: ReadonlyMap<FoundKind, readonly { readonly rank: number }[]>, { kind }: FoundGroup): number {
  return (found.get(kind) ?? []).some(({ rank }) => rank < ELSEWHERE) ? 0 : 1
}

function hit({ id, name, owner, lowerName, texts }: Findable, words: readonly string[]): FoundHit {
  const missing = words.filter((word) => !lowerName.includes(word))
  const shown = missing.flatMap((word) => texts.find((text) => text.lower.includes(word)) ?? [])
  const where = [...new Set(shown)].map(({ label, text }) => `${label === '' ? '' : `${label} `}${excerpt(text, missing)}`).join('; ')
  return { id, name, where: where === '' ? null : where, owner }
}

/** A long text around the first word found in it. */
function excerpt(text: string, words: readonly string[]): string {
  if (text.length <= EXCERPT) return text
  const at = Math.max(0, Math.min(...words.flatMap((word) => (lower(text).includes(word) ? [lower(text).indexOf(word)] : []))) - EXCERPT / 2)
  return `${at > 0 ? '... ' : ''}${text.slice(at, at + EXCERPT).trim()}${at + EXCERPT < text.length ? ' ...' : ''}`
}

const EXCERPT = 120

function findable(record: LabRecord & { kind: FoundKind }, look: Look): Findable {
  const { name, texts, ownerId } = wordsIn(record, look)
  const owner = ownerId === undefined ? undefined : look(ownerId)
  const whole = [...texts, ...(record.note === undefined ? [] : [{ label: 'note:', text: record.note }])].filter(({ text }) => text.trim() !== '').map((part) => ({ ...part, lower: lower(part.text) }))
  const lowerName = lower(name)
  return { kind: record.kind, id: record.id, name, owner: owner === undefined ? null : { kind: owner.kind, id: owner.id }, lowerName, texts: whole, all: [lowerName, ...whole.map((part) => part.lower)].join('\n') }
}

interface Words {
  readonly name: string
  readonly texts: readonly { readonly label: string; readonly text: string }[]
  readonly ownerId?: string
}

function wordsIn(record: LabRecord & { kind: FoundKind }, look: Look): Words {
  const named = (id: string | undefined): string => {
    const found = id === undefined ? undefined : look(id)
    return found !== undefined && 'name' in found ? found.name : ''
  }
  switch (record.kind) {
    case 'part':
      return { name: record.name, texts: field('', record.slot) }
    case 'sample':
      return {
        name: sampleText(named(record.partId), record.label),
        texts: [...field('serial', record.serial), ...field('batch', record.batch), ...field('', record.status), ...field('quarantined:', record.quarantine?.reason), ...field('bin', named(record.bin?.binId)), ...field('from', record.origin)],
      }
    case 'tune':
      return {
        name: record.name,
        texts: [...record.settings.map(({ key, scope, asked }) => ({ label: '', text: `${key}${scopeText(scope)} ${settingText(asked)}` })), ...field('based on', named(record.baseId)), ...field('let past a ceiling:', record.override?.reason)],
      }
    case 'workload':
      return { name: record.name, texts: [...field('', record.group), ...field('version', record.version), ...field('preset', record.preset), ...record.measures.map((measure) => ({ label: 'measure', text: measure.name }))] }
    case 'suite':
      return { name: record.name, texts: record.items.map(({ workloadId }) => ({ label: 'with', text: named(workloadId) })) }
    case 'bin':
      return { name: record.name, texts: field('of', named(record.partId)), ownerId: record.partId }
    case 'question':
      return { name: describeRecord(record, look).replace(/^question "(.*)"$/s, '$1'), texts: [] }
    case 'report':
      return { name: record.title, texts: [{ label: 'report', text: String(record.number) }, { label: 'file', text: record.file }] }
    case 'sheet':
      return { name: record.name, texts: field('on', named(record.rigId)) }
    case 'start':
      return { name: describeRecord(record, look), texts: [...field('on', named(record.rigId)), ...field('firmware', record.conditions.firmware), ...field('image', record.conditions.systemImage), ...field('drivers', record.conditions.drivers), ...field('cooling', record.conditions.cooling), ...field('from', record.source)] }
    case 'evidence':
      return { name: record.name, texts: field('by', record.by), ...(record.about[0] === undefined ? {} : { ownerId: record.about[0] }) }
    case 'ceiling':
      return { name: record.name, texts: [...record.settings.map((text) => ({ label: 'setting', text })), ...field('', record.source)] }
    case 'setting kind':
      return { name: record.name, texts: (record.modes ?? []).map((text) => ({ label: 'mode', text })) }
    case 'dose':
      return { name: describeRecord(record, look), texts: field('', record.setting), ownerId: record.sampleId }
    case 'mount': {
      const assembly = look(record.assemblyId)
      return { name: describeRecord(record, look), texts: [...field('paste', record.paste), ...field('frame', record.frame), ...field('lid', record.lid)], ...(assembly?.kind === 'assembly' ? { ownerId: assembly.rigId } : {}) }
    }
    default:
      return { name: record.name, texts: [] }
  }
}

function field(label: string, text: string | undefined): Words['texts'] {
  return text === undefined ? [] : [{ label, text }]
}

const order = new Intl.Collator('en-GB', { numeric: true })
