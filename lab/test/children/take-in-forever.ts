// Started by a test as a process of its own, to be killed: takes in CSVs and journals in turn and says each acknowledged change on a line.
import { randomFillSync } from 'node:crypto'
import { writeSync } from 'node:fs'
import { createIdFactory } from '@guardband/model'
import { openLab } from '../../index.ts'
import { journalBodies, journalFile, journalIds } from '../journal-files.ts'
import { csvFile, RUNS_A_CSV } from '../kill-csv.ts'

const [folder, tag] = process.argv.slice(2)
const newId = createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void randomFillSync(bytes) })
const lab = openLab(folder, { now: () => Date.now(), newId })
writeSync(1, 'ready\n')
let previous: { readonly journal: string; readonly lastHash: string } | undefined
for (let round = 0; ; round++) {
  const name = `${tag}-${round}`
  const csv = lab.intakeRuns({ text: csvFile(name), file: `${name}.csv`, who: 'child', only: 'take' })
  writeSync(1, `csv ${name} ${csv.change} ${RUNS_A_CSV}\n`)
  const ids = journalIds(newId)
  const whole = journalFile(journalBodies(ids, { order: round, ...(previous === undefined ? {} : { previous }) }))
  // First as a rig would sync it halfway, then whole.
  const half = lab.intakeJournal({ bytes: whole.bytes.subarray(0, whole.cuts[6]), file: name, who: 'child' })
  writeSync(1, `journal ${ids.journal} ${half.change} 1\n`)
  const rest = lab.intakeJournal({ bytes: whole.bytes, file: name, who: 'child' })
  writeSync(1, `journal ${ids.journal} ${rest.change} 1\n`)
  previous = { journal: ids.journal, lastHash: whole.lastHash }
}
