// Takes in a rig's journal: its bytes are kept as received before anything is booked from them, and taking it twice changes nothing.
import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs'
import path from 'node:path'
import { decodeJournal, sha256Hex, SpokenError, type JournalBodyOf, type JournalReading } from '@guardband/model'
import { labRecord, type LabCore } from '../../lab-core.ts'
import type { JournalIntake } from '../../lab.ts'
import { createDraft } from '../draft.ts'
import { buildNames, buildResolved, buildStart, holdsStart, type BuildContext } from './build-records.ts'
import { keepSaws, noteSaws } from './companion-notes.ts'
import { bodiesOf, createJournalBook, forkSentence, JOURNALS_FOLDER, type JournalBook, type JournalRow } from './journal-book.ts'

export interface JournalInput {
  readonly bytes: Uint8Array
  readonly file: string
  readonly who: string
  /** The device that hands it over. */
  readonly device?: string
}

/** First record of a rig's journal, or of a companion's file. */
export type Opening = JournalBodyOf<'open'> | JournalBodyOf<'watch'>

export function intakeJournal(core: LabCore, input: JournalInput): JournalIntake {
  const reading = decodeJournal(input.bytes)
  const open = openingOf(reading)
  if (open === undefined) {
    const remarks = [`${input.file}: this is no journal, or its opening record is damaged, so nothing could be taken in.`, ...damageRemarks(reading, input.file)]
    return { journal: null, taken: false, seenBefore: false, change: null, runs: 0, remarks }
  }
  return core.transact(() => take(core, input, reading, open))
}

/** What the file is, by its first record; undefined where it is neither a journal nor a companion's file. */
export function openingOf({ entries }: JournalReading): Opening | undefined {
  const first = entries.at(0)?.body
  return first?.type === 'open' || first?.type === 'watch' ? first : undefined
}

/** Journals whose bytes were kept when a crash came before they were booked. */
export function recoverJournals(core: LabCore): void {
  const folder = path.join(core.folder, JOURNALS_FOLDER)
  if (!existsSync(folder)) return
  const rows = new Map(createJournalBook(core).rows().map((row) => [row.file, row]))
  const nameOf = core.db.prepare<[string], string>('SELECT name FROM device WHERE id = ?').pluck()
  for (const name of readdirSync(folder)) {
    if (!name.endsWith('.journal') || name.startsWith('.')) continue
    const file = path.join(folder, name)
    const { length, device } = rows.get(name) ?? { length: -1, device: null }
    if (length === statSync(file).size) continue
    const bytes = readFileSync(file)
    try {
      if (device === null) intakeJournal(core, { bytes, file: name, who: 'guardband' })
      else recoverHandedOver(core, { bytes, file: name, who: nameOf.get(device) ?? 'guardband', device })
    } catch (error) {
      // What can't be booked stays where it is; the check names it.
      if (!(error instanceof SpokenError)) throw error
    }
  }
}

function recoverHandedOver(core: LabCore, input: JournalInput): void {
  const reading = decodeJournal(input.bytes)
  const open = openingOf(reading)
  if (open !== undefined) intakeHandedOver(core, input, reading, open)
}

/**
 * Takes in what a rig handed over up to now, of which the bytes held are the head. All of it is held whatever can be booked of it: a person may have taken
 * the start back, or the workspace may lack what a record refers to.
 */
export function intakeHandedOver(core: LabCore, input: JournalInput, reading: JournalReading, open: Opening): JournalIntake {
  return core.transact(() => {
    const book = createJournalBook(core)
    const row = book.row(open.journal)
    const remarks = damageRemarks(reading, input.file)
    return keepAndBook(core, { ...input, reading, open, row }, { book, remarks, who: input.who }, (work) => {
      try {
        // A savepoint: what can't be booked leaves nothing behind, and the bytes are held all the same.
        return core.db.transaction(work)()
      } catch (error) {
        if (!(error instanceof SpokenError)) throw error
        remarks.push(`Journal ${open.journal} is held, but not booked: ${error.sentence}`)
        return { change: null, runs: 0, rigId: row?.rig_id ?? null }
      }
    })
  })
}

function take(core: LabCore, input: JournalInput, reading: JournalReading, open: Opening): JournalIntake {
  const book = createJournalBook(core)
  const remarks = damageRemarks(reading, input.file)
  const row = book.row(open.journal)
  if (row !== undefined) {
    requireStanding(core, row)
    const same = row.digest === sha256Hex(input.bytes)
    if (same ? !lacksRuns(core, reading, open) : compare(row, book, reading, input.file) === 'nothing new') return { ...nothingNew(open), remarks }
  }
  return keepAndBook(core, { ...input, reading, open, row }, { book, remarks, who: input.who }, (work) => work())
}

/**
 * Whether a file that is held names runs that never were booked, though their start is here: it came while a person had taken the start back, or while
 * something that it refers to was missing.
 */
function lacksRuns({ db, store }: LabCore, { entries }: JournalReading, open: Opening): boolean {
  if (open.type !== 'open' || store.kindOf(open.startId) === undefined) return false
  const everChanged = db.prepare<[string], number>('SELECT 1 FROM change_item WHERE id = ? LIMIT 1').pluck()
  const ended = new Set(bodiesOf(entries, 'end').map(({ runId }) => runId))
  const planned = new Set(open.plan.workloads.map(({ name }) => name))
  return bodiesOf(entries, 'begin').some(({ runId, workload }) => ended.has(runId) && planned.has(workload) && everChanged.get(runId) === undefined)
}

function nothingNew({ journal }: Opening): Omit<JournalIntake, 'remarks'> {
  return { journal, taken: false, seenBefore: true, change: null, runs: 0 }
}

interface Received extends JournalInput {
  readonly reading: JournalReading
  readonly open: Opening
  readonly row: JournalRow | undefined
}

function keepAndBook(core: LabCore, { bytes, device, reading, open, row }: Received, booking: Booking, attempt: (work: () => Booked) => Booked): JournalIntake {
  const { book, remarks } = booking
  remarks.push(...chainRemarks(open, book))
  const file = book.keep(open.journal, bytes)
  for (const body of bodiesOf(reading.entries, 'resolved')) book.addResolved(open.journal, body)
  const { change, runs, rigId } = attempt(() => (open.type === 'open' ? bookRecords(core, reading, open, booking) : bookCompanion(core, reading, open, booking)))
  book.put({
    id: open.journal,
    file,
    digest: sha256Hex(bytes),
    length: bytes.length,
    last_hash: reading.entries.at(-1)?.hash ?? '',
    previous: open.previous?.journal ?? null,
    rig_id: rigId,
    change: change ?? row?.change ?? null,
    device: device ?? row?.device ?? null,
  })
  return { journal: open.journal, taken: true, seenBefore: false, change, runs, remarks }
}

interface Booking {
  readonly book: JournalBook
  readonly remarks: string[]
  readonly who: string
}

interface Booked {
  readonly change: number | null
  readonly runs: number
  readonly rigId: string | null
}

function bookRecords(core: LabCore, reading: JournalReading, open: JournalBodyOf<'open'>, { book, remarks, who }: Booking): Booked {
  const draft = createDraft(core)
  const everChanged = core.db.prepare<[string], number>('SELECT 1 FROM change_item WHERE id = ? LIMIT 1').pluck()
  const takenBack = (id: string): boolean => core.store.kindOf(id) === undefined && everChanged.get(id) !== undefined
  const context: BuildContext = { draft, book, remarks, record: core.store.get, takenBack, labId: labRecord(core).id }
  const known = core.store.list('rig').find((rig) => rig.name === open.plan.rig)?.id ?? null
  if (takenBack(open.startId)) {
    remarks.push(`The start of journal ${open.journal} was taken back by a person, so it stays out; the file is held.`)
    return { change: null, runs: 0, rigId: known }
  }
  const names = holdsStart(reading.entries) ? buildNames(open, context) : null
  const own = names === null ? 0 : buildStart(open, reading.entries, names, context)
  const closed = buildResolved(reading.entries, { ...context, names: (earlier) => (earlier.planHash === open.planHash && names !== null ? names : buildNames(earlier, context)) })
  const items = draft.items()
  const runs = own + closed
  const what = runs === 0 ? `Took in what a journal of ${open.plan.rig} says of its start` : `Took in ${runs} ${runs === 1 ? 'run' : 'runs'} from a journal of ${open.plan.rig}`
  const change = items.length === 0 ? null : core.log.write({ who, what, items, told: 'as it happened' })
  // What a companion saw may have waited for these.
  if (change !== null) noteSaws(core)
  return { change, runs, rigId: names?.rig.id ?? known }
}

function bookCompanion(core: LabCore, { entries }: JournalReading, { journal }: JournalBodyOf<'watch'>, { who }: Booking): Booked {
  keepSaws(core, { journal, who, entries })
  return { change: noteSaws(core), runs: 0, rigId: null }
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

/** A journal stays with the device that began to hand it over; once that one is shut out, with the one that was let in under its name instead. */
export function requireOwner({ db }: LabCore, { id, device }: JournalRow, asking: string): void {
  if (device === null || device === asking) return
  const find = db.prepare<[string], { name: string; revoked: string | null }>('SELECT name, revoked FROM device WHERE id = ?')
  const owner = find.get(device)
  if (owner !== undefined && owner.revoked !== null && owner.name === find.get(asking)?.name) return
  throw new SpokenError({
    code: 'journal-foreign',
    place: `journal ${id}`,
    message: 'another device began to hand this journal over, and only that one goes on with it.',
    mend: 'Pair one device for each rig. If this rig was paired anew, revoke its former device at the hub and give it the same name.',
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

function chainRemarks(open: Opening, book: JournalBook): readonly string[] {
  if (open.previous === null) return []
  const { journal, lastHash } = open.previous
  const remarks = book.siblings(open.journal, journal).map((other) => forkSentence([other, open.journal], journal))
  const before = book.row(journal)
  if (before === undefined) remarks.push(`The journal before this one, ${journal}, has not been taken in.`)
  else if (before.last_hash !== lastHash) remarks.push(`Journal ${journal} ends otherwise than this one says of it; perhaps an older copy of it was taken in.`)
  return remarks
}
