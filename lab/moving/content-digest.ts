// The content digest of a workspace, piece by piece: over the texts of all records in the order of their ids, without all of them in memory.
import { createHash } from 'node:crypto'

/** Equals `contentDigest` of the array of texts: RFC 8785 writes a string as JSON.stringify does. */
export function digestOfBodies(bodies: Iterable<string>): string {
  const hash = createHash('sha256')
  let first = true
  hash.update('[')
  for (const body of bodies) {
    hash.update(`${first ? '' : ','}${JSON.stringify(body)}`)
    first = false
  }
  return hash.update(']').digest('hex')
}
