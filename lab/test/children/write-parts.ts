// Started by a test as a process of its own: adds parts one change at a time.
import { randomFillSync } from 'node:crypto'
import { createIdFactory } from '@guardband/model'
import { openLab } from '../../index.ts'

const [folder, name, count] = process.argv.slice(2)
const sources = { now: () => Date.now(), newId: createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void randomFillSync(bytes) }) }
const lab = openLab(folder, sources)
for (let index = 0; index < Number(count); index++) {
  lab.apply({
    who: name,
    what: 'Added a part',
    items: [{ before: null, after: { kind: 'part', id: sources.newId(), name: `${name} ${String(index).padStart(3, '0')}`, slot: 'processor', prices: [] } }],
  })
}
await lab.close()
