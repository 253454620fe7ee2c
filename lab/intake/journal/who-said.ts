// Who said what while a plan ran: the answers of a journal, as notes beside what they are about.
import type { JournalBodyOf, JournalEntry } from '@guardband/model'

/** By the id of what was in force: who vouched for it. */
export function vouchers(entries: readonly JournalEntry[]): ReadonlyMap<string, string> {
  const found = new Map<string, string>()
  let last: JournalBodyOf<'answer'> | undefined
  for (const { body } of entries) {
    if (body.type === 'answer') last = body
    // An answer before a run was about that run, or about the tune before it.
    if (body.type === 'begin') last = undefined
    if (body.type !== 'in force') continue
    if (body.known === 'seen by a person' && last !== undefined) found.set(body.inForceId, `Seen by ${last.who}, ${VIA[last.via]}.`)
    last = undefined
  }
  return found
}

/** By the id of the run: what people said of it between its beginning and its end. */
export function saidDuringRuns(entries: readonly JournalEntry[]): ReadonlyMap<string, readonly string[]> {
  const said = new Map<string, string[]>()
  let run: JournalBodyOf<'begin'> | undefined
  for (const { body } of entries) {
    if (body.type === 'begin') run = body
    if (body.type === 'end') run = undefined
    if (body.type !== 'answer' || run === undefined) continue
    const sentence = `${body.who} said ${body.answer === '' ? 'that it was done' : `"${body.answer}"`}, ${VIA[body.via]}.`
    said.set(run.runId, [...(said.get(run.runId) ?? []), sentence])
  }
  return said
}

/** As much of it as a note may hold. */
export function noteOf(lines: readonly string[]): string {
  return lines.filter((line) => line !== '').join('\n').slice(0, LONGEST_NOTE)
}

/** As the schema of a record's note allows. */
export const LONGEST_NOTE = 10_000

const VIA: Readonly<Record<JournalBodyOf<'answer'>['via'], string>> = { terminal: 'at the terminal', phone: 'on a phone', page: 'on the page', companion: 'at the companion' }
