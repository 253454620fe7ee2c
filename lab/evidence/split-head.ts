// Parts a stream of bytes after its first so many: what is before is read at once, what follows stays a stream.
import { SpokenError } from '@guardband/model'

export async function splitHead(pieces: AsyncIterable<Uint8Array>, length: number): Promise<{ readonly head: Uint8Array; readonly rest: AsyncIterable<Uint8Array> }> {
  const source = pieces[Symbol.asyncIterator]()
  const head = new Uint8Array(length)
  let filled = 0
  let left: Uint8Array = new Uint8Array()
  while (filled < length) {
    const next = await source.next()
    if (next.done === true) throw new SpokenError({ code: 'body-short', message: `the upload ended after ${filled} of the ${length} bytes of its small picture.`, mend: 'Send it again.' })
    const taken = next.value.subarray(0, length - filled)
    head.set(taken, filled)
    filled += taken.byteLength
    left = next.value.subarray(taken.byteLength)
  }
  return { head, rest: followed(left, source) }
}

async function* followed(first: Uint8Array, source: AsyncIterator<Uint8Array>): AsyncGenerator<Uint8Array> {
  try {
    if (first.byteLength > 0) yield first
    for (;;) {
      const next = await source.next()
      if (next.done === true) return
      yield next.value
    }
  } finally {
    await source.return?.()
  }
}
