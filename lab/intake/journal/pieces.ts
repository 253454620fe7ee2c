// A journal that a rig hands over while it writes it: each piece goes behind what is held, on disk and booked before it is acknowledged.
import { decodeJournal, JOURNAL_LIMIT, sha256Hex, SpokenError, type Held } from '@guardband/model'
import { newInPiece } from '@guardband/model/journal/piece'
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
  const rest = newInPiece(journal, held, { offset, bytes })
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

function heldOf(bytes: Uint8Array): Held {
  return { bytes: bytes.length, sha256: sha256Hex(bytes) }
}
