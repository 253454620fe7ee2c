// A journal that a rig hands over while it writes it: each piece goes behind what is held, on disk and booked before it is acknowledged.
import { sha256Hex, SpokenError, type Held } from '@guardband/model'
import type { LabCore } from '../../lab-core.ts'
import type { JournalIntake, JournalPiece, SeenOfJournal } from '../../lab.ts'
import { intakeJournal } from './intake-journal.ts'
import { createJournalBook } from './journal-book.ts'

export function heldJournal(core: LabCore, journal: string): Held {
  return heldOf(createJournalBook(core).bytes(journal))
}

export function intakePiece(core: LabCore, { journal, offset, bytes, who, device }: JournalPiece): JournalIntake & { readonly held: Held } {
  const book = createJournalBook(core)
  const place = `journal ${journal}`
  const row = book.row(journal)
  if (row !== undefined && row.device !== null && row.device !== device) {
    throw new SpokenError({ code: 'journal-foreign', place, message: 'another device began to hand this journal over, and only that one goes on with it.', mend: 'Pair one device for each rig.' })
  }
  const held = book.bytes(journal)
  if (offset > held.length) throw new SpokenError({ code: 'journal-gap', place, message: `the piece must begin at byte ${held.length} or before; got ${offset}.`, mend: 'Send what lies between first.' })
  const shared = Math.min(bytes.length, held.length - offset)
  if (!Buffer.from(held.subarray(offset, offset + shared)).equals(bytes.subarray(0, shared))) {
    throw new SpokenError({ code: 'journal-fork', place, message: 'what was handed over before says something else at the same place.', mend: 'The rig was restored or copied: give one of the two another folder.' })
  }
  const rest = bytes.subarray(shared)
  if (rest.length > 0 && rest[rest.length - 1] !== LINE_FEED) throw new SpokenError({ code: 'journal-piece', place, message: 'a piece must end with a whole line.', mend: 'Send it up to its last line feed.' })
  const whole = Buffer.concat([held, rest])
  // Also where nothing is new: a crash may have come between the bytes and their records.
  const taken = whole.length === 0 ? { journal: null, taken: false, seenBefore: true, change: null, runs: 0, remarks: [] } : intakeJournal(core, { bytes: whole, file: `${journal}.journal`, who, device })
  if (whole.length > 0 && taken.journal !== journal) throw new SpokenError({ code: 'journal-other', place, message: `the first line must open this journal; got ${taken.journal === null ? 'none that does' : `that of journal ${taken.journal}`}.` })
  return { ...taken, held: heldOf(whole) }
}

/** Companions hand in files of their own, which name the journal that they speak of. */
export function seenOfJournal(core: LabCore, journal: string): readonly SeenOfJournal[] {
  const book = createJournalBook(core)
  return book.rows().flatMap(({ id }) => book.kept(id).entries.flatMap(({ body }) => (body.type === 'saw' && body.journal === journal ? [{ at: body.at, what: body.what, text: body.text }] : [])))
}

const LINE_FEED = 0x0a

function heldOf(bytes: Uint8Array): Held {
  return { bytes: bytes.length, sha256: sha256Hex(bytes) }
}
