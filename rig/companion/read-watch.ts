// Reads a watch file. What is wrong with it comes as a sentence that names file, line, column and mend.
import { readFileSync } from 'node:fs'
import { SpokenError } from '@guardband/model'
import { watchFileSchema, type WatchFile } from '@guardband/model/companion'
import type { PlanUse } from '../approvals.ts'
import { linePlace, scanJson } from '../json-places.ts'

export function readWatchFile(file: string): WatchFile {
  let text: string
  try {
    text = readFileSync(file, 'utf8').replace(/^\uFEFF/, '')
  } catch (cause) {
    throw new SpokenError({ code: 'watch-unreadable', place: file, message: `this watch file can't be read (${cause instanceof Error ? cause.message : String(cause)}).`, mend: 'Name the file as it is from this folder.' })
  }
  const { fault, offsets } = scanJson(text)
  if (fault !== null) throw at(text, fault.offset, { file, message: `this is no JSON: ${fault.message}.` })
  const parsed = watchFileSchema.safeParse(JSON.parse(text))
  if (parsed.success) return parsed.data
  const [issue] = parsed.error.issues
  const path = issue.path.map((step) => (typeof step === 'number' ? `[${step}]` : `.${String(step)}`)).join('').replace(/^\./, '')
  const wrong = issue.code === 'unrecognized_keys' ? `has no key "${issue.keys[0]}"` : issue.message.replace(/^Invalid input: /, '')
  throw at(text, offsets.get(path) ?? offsets.get('') ?? 0, { file, message: `${path === '' ? 'the watch file' : path} ${wrong}.` })
}

/** What an approval of it lists. */
export function watchUses({ rig, actions }: WatchFile): readonly PlanUse[] {
  return actions.map(({ name, command }) => ({ use: `when "${rig}" is silent: ${name}`, command, reads: [] }))
}

function at(text: string, offset: number, { file, message }: { readonly file: string; readonly message: string }): SpokenError {
  const { line, column } = linePlace(text, offset)
  return new SpokenError({ code: 'watch-file', place: `${file}, line ${line}, column ${column}`, message, mend: 'It holds schema, id, rig, silenceSeconds, actions (name, command, waitSeconds) and mostPerHour.' })
}
