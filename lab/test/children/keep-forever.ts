// Started by a test as a process of its own, to be killed: keeps one file after another beside a record and says each acknowledged one on a line.
import { randomBytes, randomFillSync } from 'node:crypto'
import { writeSync } from 'node:fs'
import { flushCompileCache } from 'node:module'
import { createIdFactory } from '@guardband/model'
import { openLab } from '../../index.ts'

const [folder, about] = process.argv.slice(2)
const newId = createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void randomFillSync(bytes) })
const lab = openLab(folder, { now: () => Date.now(), newId })
// A killed process would never write what it compiled, and the next would start as slowly.
flushCompileCache()
writeSync(1, 'ready\n')
for (let round = 0; ; round++) {
  const { evidence } = await lab.evidence.keep({ request: newId(), who: 'child', name: `${round}.jpg`, mediaType: 'image/jpeg', about: [about], thumbnailBytes: 3, limit: 1_000_000, pieces: picture() })
  writeSync(1, `kept ${evidence.id} ${evidence.sha256}\n`)
}

/** In pieces, so that a kill falls into the middle of one. */
async function* picture(): AsyncGenerator<Uint8Array> {
  yield Uint8Array.from([0xff, 0xd8, 0xff])
  for (let piece = 0; piece < 8; piece++) yield randomBytes(5_000)
}
