// A journal that a rig hands over while it writes it: each piece goes behind what is held, on disk and booked before it is acknowledged.
import { decodeJournal, JOURNAL_LIMIT, sha256Hex, SpokenError, type Held } from '@guardband/model'
import type { LabCore } from '../../lab-core.ts'
import type { JournalIntake, JournalPiece } from '../../lab.ts'
import { intakeHandedOver, openingOf, requireOwner } from './intake-journal.ts'
import { createJournalBook } from './journal-book.ts'

/** What is held of a journal; refused to a device other than the one that hands it over. */
export function heldJournal(core: LabCore, journal: string, device: string): Held {
  const book = createJournalBook(core)
  const row = book.row(journal)
  if (row !== undefined) requireOwner(core, row, device)
  return heldOf(book.bytes(journal))
}

export function intakePiece(core: LabCore, piece: JournalPiece): JournalIntake & { readonly held: Held } {
  return core.transact(() => appendPiece(core, piece))
}

function appendPiece(core: LabCore, { journal, offset, bytes, who, device }: JournalPiece): JournalIntake & { readonly held: Held } {
  const book = createJournalBook(core)
  const place = `journal ${journal}`
  const row = book.row(journal)
  if (row !== undefined) requireOwner(core, row, device)
  const held = book.bytes(journal)
  if (offset > held.length) throw new SpokenError({ code: 'journal-gap', place, message: `the piece must begin at byte ${held.length} or before; got ${offset}.`, mend: 'Send what lies between first.' })
  const shared = Math.min(bytes.length, held.length - offset)
  if (!Buffer.from(held.subarray(offset, offset + shared)).equals(bytes.subarray(0, shared))) {
    throw new SpokenError({ code: 'journal-fork', place, message: 'what was handed over before says something else at the same place.', mend: 'The rig was restored or copied: give one of the two another folder.' })
  }
  const rest = bytes.subarray(shared)
  if (rest.length > 0 && rest[rest.length - 1] !== LINE_FEED) throw new SpokenError({ code: 'journal-piece', place, message: 'a piece must end with a whole line.', mend: 'Send it up to its last line feed.' })
  const whole = Buffer.concat([held, rest])
  if (whole.length > JOURNAL_LIMIT) throw new SpokenError({ code: 'journal-too-long', place, message: `a journal must be at most ${JOURNAL_LIMIT / (1024 * 1024)} MB; with this piece it has more.` })
  const now = heldOf(whole)
  // Nothing is new, and no crash came between the bytes and their records.
  if (rest.length === 0 && (whole.length === 0 || row?.digest === now.sha256)) return { journal, taken: false, seenBefore: true, change: null, runs: 0, remarks: [], held: now }
  const reading = decodeJournal(whole)
  const open = openingOf(reading)
  if (open?.journal !== journal) throw new SpokenError({ code: 'journal-other', place, message: `the first line must open this journal; got ${open === undefined ? 'none that does' : `that of journal ${open.journal}`}.`, mend: 'Nothing of it was taken in.' })
  return { ...intakeHandedOver(core, { bytes: whole, file: `${journal}.journal`, who, device }, reading, open), held: now }
}

const LINE_FEED = 0x0a

function heldOf(bytes: Uint8Array): Held {
  return { bytes: bytes.length, sha256: sha256Hex(bytes) }
}
