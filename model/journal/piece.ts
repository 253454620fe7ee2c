// A further piece of a journal that is handed over: the one rule by which whoever holds the beginning takes it.
import { SpokenError } from '../errors.ts'

/**
 * What of a piece is new behind the bytes that are held. It goes behind the first `offset` bytes; what it repeats must be the same, and it ends with a whole line.
 * Throws `journal-gap`, `journal-fork`, `journal-piece`.
 */
export function newInPiece(journal: string, held: Uint8Array, { offset, bytes }: { readonly offset: number; readonly bytes: Uint8Array }): Uint8Array {
  const place = `journal ${journal}`
  if (offset > held.length) throw new SpokenError({ code: 'journal-gap', place, message: `the piece must begin at byte ${held.length} or before; got ${offset}.`, mend: 'Send what lies between first.' })
  const shared = Math.min(bytes.length, held.length - offset)
  for (let at = 0; at < shared; at++) {
    if (held[offset + at] !== bytes[at]) throw new SpokenError({ code: 'journal-fork', place, message: 'what was handed over before says something else at the same place.', mend: 'The rig was restored or copied: give one of the two another folder.' })
  }
  const rest = bytes.subarray(shared)
  if (rest.length > 0 && rest[rest.length - 1] !== LINE_FEED) throw new SpokenError({ code: 'journal-piece', place, message: 'a piece must end with a whole line.', mend: 'Send it up to its last line feed.' })
  return rest
}

const LINE_FEED = 0x0a
