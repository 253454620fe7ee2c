// Takes in a rig's journal: its bytes are kept as received before anything is booked from them, and taking it twice changes nothing.
import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs'
import path from 'node:path'
import { decodeJournal, sha256Hex, SpokenError, type JournalBodyOf, type JournalReading, type Run } from '@guardband/model'
import type { LabCore } from '../../lab-core.ts'
import type { JournalIntake } from '../../lab.ts'
import { createDraft } from '../draft.ts'
import { buildNames, buildResolved, buildStart, holdsStart, type BuildContext } from './build-records.ts'
import { bodiesOf, createJournalBook, JOURNALS_FOLDER, type JournalBook, type JournalRow } from './journal-book.ts'

export interface JournalInput {
  readonly bytes: Uint8Array
  readonly file: string
  readonly who: string
  readonly device?: string
}

export function intakeJournal(core: LabCore, input: JournalInput): JournalIntake {
  const reading = decodeJournal(input.bytes)
  const open = reading.entries[0]?.body
  if (open?.type !== 'open') {
    const remarks = [`${input.file}: this is no journal, or its opening record is damaged, so nothing could be taken in.`, ...damageRemarks(reading, input.file)]
    return { journal: null, taken: false, seenBefore: false, change: null, runs: 0, remarks }
  }
  return core.transact(() => take(core, input, reading, open))
}

/** Journals whose bytes were kept when a crash came before they were booked. */
export function recoverJournals(core: LabCore): void {
  const folder = path.join(core.folder, JOURNALS_FOLDER)
  if (!existsSync(folder)) return
  const lengths = new Map(createJournalBook(core).rows().map((row) => [row.file, row.length]))
  for (const name of readdirSync(folder)) {
    if (!name.endsWith('.journal') || name.startsWith('.')) continue
    const file = path.join(folder, name)
    if (lengths.get(name) === statSync(file).size) continue
    try {
      intakeJournal(core, { bytes: readFileSync(file), file: name, who: 'guardband' })
    } catch (error) {
      // What can't be booked stays where it is; the check names it.
      if (!(error instanceof SpokenError)) throw error
    }
  }
}

function take(core: LabCore, input: JournalInput, reading: JournalReading, open: JournalBodyOf<'open'>): JournalIntake {
  const book = createJournalBook(core)
  const remarks = damageRemarks(reading, input.file)
  const row = book.row(open.journal)
  const digest = sha256Hex(input.bytes)
  const seen = { journal: open.journal, taken: false, seenBefore: true, change: null, runs: 0 }
  if (row !== undefined) {
    requireStanding(core, row)
    if (row.digest === digest) return { ...seen, remarks }
    if (compare(row, book, reading, input.file) === 'nothing new') return { ...seen, remarks }
  }
  remarks.push(...chainRemarks(open, book))

  const file = book.keep(open.journal, input.bytes)
  for (const body of bodiesOf(reading.entries, 'resolved')) book.addResolved(open.journal, body)
  const { change, runs, rigId } = bookRecords(core, reading, open, { book, remarks, who: input.who })
  const lastHash = reading.entries.at(-1)?.hash ?? ''
  book.put({
    id: open.journal,
    file,
    digest,
    length: input.bytes.length,
    last_hash: lastHash,
    previous: open.previous?.journal ?? null,
    rig_id: rigId,
    change: change ?? row?.change ?? null,
    device: input.device ?? row?.device ?? null,
  })
  return { journal: open.journal, taken: true, seenBefore: false, change, runs, remarks }
}

function bookRecords(
  core: LabCore,
  reading: JournalReading,
  open: JournalBodyOf<'open'>,
  { book, remarks, who }: { readonly book: JournalBook; readonly remarks: string[]; readonly who: string },
): { readonly change: number | null; readonly runs: number; readonly rigId: string | null } {
  const draft = createDraft(core)
  const context: BuildContext = {
    draft,
    book,
    remarks,
    has: (id) => core.store.kindOf(id) !== undefined,
    stored: (id) => {
      const record = core.store.get(id)
      return record?.kind === 'run' ? (record satisfies Run) : undefined
    },
  }
  const names = holdsStart(reading.entries) ? buildNames(open, context) : null
  const own = names === null ? 0 : buildStart(open, reading.entries, names, context)
  const closed = buildResolved(reading.entries, { ...context, names: (earlier) => (earlier.planHash === open.planHash && names !== null ? names : buildNames(earlier, context)) })
  const items = draft.items()
  const runs = own + closed
  const rigId = names?.rig.id ?? core.store.list('rig').find((rig) => rig.name === open.plan.rig)?.id ?? null
  if (items.length === 0) return { change: null, runs, rigId }
  const change = core.log.write({ who, what: `Took in ${runs} ${runs === 1 ? 'run' : 'runs'} from a journal of ${open.plan.rig}`, items, told: 'as it happened' })
  return { change, runs, rigId }
}

/** What was taken back by a person does not come in again by itself. */
function requireStanding(core: LabCore, row: JournalRow): void {
  if (row.change === null || core.log.stands(row.change)) return
  throw new SpokenError({
    code: 'journal-taken-back',
    place: `journal ${row.id}`,
    message: `what was taken in from it was taken back (change ${row.change}).`,
    mend: 'Take back the change that did so, then take the journal in again.',
  })
}

/** Two copies of one journal agree in every record that both hold, and the later one holds all that the earlier one did. */
function compare({ id, digest }: JournalRow, book: JournalBook, reading: JournalReading, file: string): 'more' | 'nothing new' {
  const onDisk = book.kept(id)
  const kept = new Map(onDisk.entries.map((entry) => [entry.sequence, entry.hash]))
  let more = 0
  let shared = 0
  for (const entry of reading.entries) {
    const hash = kept.get(entry.sequence)
    if (hash === undefined) more += 1
    else if (hash === entry.hash) shared += 1
    else {
      throw new SpokenError({
        code: 'journal-fork',
        place: `${file}, record ${entry.sequence}`,
        message: `this is another journal with the id ${id}: it says something else than the one taken in before.`,
        mend: 'Two rigs share an identity, or a disk was restored; nothing of this file was taken in.',
      })
    }
  }
  // The file was replaced and a crash came before it was booked: a copy that holds all of it is booked now, a shorter one leaves that to the next opening.
  if (more === 0 && shared === kept.size && onDisk.digest !== digest) return 'more'
  if (more === 0) return 'nothing new'
  if (shared < kept.size) {
    throw new SpokenError({
      code: 'journal-gaps',
      place: file,
      message: `this copy of journal ${id} holds ${more} new ${more === 1 ? 'record' : 'records'} but lacks ${kept.size - shared} that ${kept.size - shared === 1 ? 'was' : 'were'} taken in before.`,
      mend: 'Copy the file from the rig again.',
    })
  }
  return 'more'
}

function damageRemarks({ damage, tail }: JournalReading, file: string): string[] {
  return [
    ...damage.map(({ line, offset, length, reason }) => `${file}, line ${line} (byte ${offset}, ${bytesText(length)}) is damaged and was left out: ${reason}.`),
    ...(tail === null ? [] : [`${file}: ${tail.length === 1 ? 'the last byte is' : `the last ${tail.length} bytes are`} a record whose writing was cut short; it was never acknowledged and is left out.`]),
  ]
}

/** Without marks between thousands, as an editor's goto wants it. */
function bytesText(length: number): string {
  return `${length} ${length === 1 ? 'byte' : 'bytes'}`
}

function chainRemarks(open: JournalBodyOf<'open'>, book: JournalBook): readonly string[] {
  if (open.previous === null) return []
  const { journal, lastHash } = open.previous
  const remarks = book.siblings(open.journal, journal).map((other) => `Journals ${other} and ${open.journal} both follow ${journal}: the rig was copied, or restored from a copy.`)
  const before = book.row(journal)
  if (before === undefined) remarks.push(`The journal before this one, ${journal}, has not been taken in.`)
  else if (before.last_hash !== lastHash) remarks.push(`Journal ${journal} ends otherwise than this one says of it; perhaps an older copy of it was taken in.`)
  return remarks
}
