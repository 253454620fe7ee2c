// Started by a test as a process of its own, to be killed: makes one workspace after another and says each one made.
import { randomFillSync } from 'node:crypto'
import { writeSync } from 'node:fs'
import path from 'node:path'
import { createIdFactory } from '@guardband/model'
import { createLab } from '../../index.ts'

const [parent] = process.argv.slice(2)
const newId = createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void randomFillSync(bytes) })
for (let round = 0; ; round++) {
  const folder = path.join(parent, `lab-${round}`)
  await createLab(folder, { name: `Lab ${round}`, currency: 'EUR' }, { now: () => Date.now(), newId }).close()
  writeSync(1, `made lab-${round}\n`)
}
