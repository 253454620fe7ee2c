// Run as a process of its own: makes a day's lab with a sheet in it, or says as one line of JSON what a workspace holds. Not a test by itself.
import { createLab, openLab, type LabSources } from '@guardband/lab'
import { createIdFactory, type RecordOf } from '@guardband/model'
import { dayLab } from './entry-day.ts'

const [, , act, folder] = process.argv
const now = (): number => Date.now()
const sources: LabSources = { now, newId: createIdFactory({ now, fillRandom: (bytes) => void crypto.getRandomValues(bytes) }) }
if (act === 'make') makeLab()
const lab = openLab(folder, sources)
const sheet = lab.list('sheet')[0]
const starts = lab.list('start')
const within = starts.flatMap(({ id }) => lab.ofStart(id))
process.stdout.write(
  `${JSON.stringify({
    labId: lab.info().lab.id,
    findings: lab.check().map(({ place, sentence }) => `${place}: ${sentence}`),
    workloads: lab.list('workload'),
    whole: {
      head: lab.head(), sheet, starts, assemblies: lab.list('assembly'), mounts: lab.list('mount'),
      inForce: within.filter((record) => record.kind === 'in force'),
      runs: within.filter((record) => record.kind === 'run'),
    },
  })}\n`,
)
await lab.close()

function makeLab(): void {
  const day = dayLab(sources.newId)
  const [rig] = day.records.filter((record) => record.kind === 'rig')
  const made: RecordOf<'sheet'> = {
    kind: 'sheet', id: sources.newId(), name: 'a day', rigId: rig.id, at: '2026-11-03T08:00:00Z', workloadIds: day.workloads.map(({ id }) => id), repeats: 2, conditions: {},
    starts: Array.from({ length: 400 }, (_, place) => ({ startId: sources.newId(), tuneId: day.tunes[place % 2], how: 'cold', slots: [{ slot: 'processor', sampleId: day.samples[Math.floor(place / 4) % day.samples.length] }] })),
  }
  void createLab(folder, { name: 'a day', currency: '', who: 'test', records: [...day.records, made] }, sources).close()
}
