// Runs as people read them: a line a measure, with names where the records hold ids. For spreadsheets; an import does not read it.
import type { LabRecord, Run } from '@guardband/model'
import { startName } from '../store/start-name.ts'
import { parseBody } from '../store/record-store.ts'
import { csvLine, BYTE_ORDER_MARK } from './csv-lines.ts'
import { guarded } from './flat-record.ts'
import type { LabReader } from './lab-reader.ts'

export function* longRunLines(reader: LabReader): Generator<string> {
  yield BYTE_ORDER_MARK + csvLine(HEADER)
  const look = rememberingLook(reader.get)
  for (const body of reader.bodies('run')) {
    const run = parseBody(body)
    if (run.kind === 'run') yield* linesOf(run, look)
  }
}

type Look = (id: string | undefined) => LabRecord | undefined

const HEADER = [
  'part', 'sample', 'picked', 'tune', 'rig', 'start', 'how', 'time', 'firmware', 'system', 'ambient', 'workload', 'group', 'measure', 'unit', 'direction', 'value',
  'outcome', 'phase', 'place', 'order', 'seconds', 'known', 'set aside', 'note',
]

function* linesOf(run: Run, look: Look): Generator<string> {
  const start = look(run.startId)
  const inForce = look(run.inForceId)
  const workload = look(run.workloadId)
  if (start?.kind !== 'start' || inForce?.kind !== 'in force' || workload?.kind !== 'workload') return
  const sample = comparedSample(look(start.assemblyId), look)
  const asked = look(start.tuneId)
  const before = [
    nameOf(look(sample?.partId)), sample?.label, sample?.picked, nameOf(look(inForce.tuneId)), nameOf(look(start.rigId)), startName(start, asked?.kind === 'tune' ? asked.name : null), start.how, run.at ?? start.at,
    start.conditions.firmware, start.conditions.systemImage, start.conditions.ambient, workload.name, workload.group,
  ]
  const after = [run.outcome, run.phase, run.place, run.order, run.exposure?.seconds, inForce.known, run.setAside?.reason, run.note]
  const measures = run.measures.length === 0 ? [undefined] : run.measures
  for (const measured of measures) {
    const measure = workload.measures.find(({ name }) => name === measured?.name)
    yield csvLine([...before, measured?.name, measure?.unit, measure?.direction, measured?.value, ...after].map(cell))
  }
}

function cell(value: string | number | undefined): string {
  if (value === undefined || value === '') return ''
  return typeof value === 'number' ? String(value) : guarded(value)
}

/** The processor, or what sits in the first slot. */
function comparedSample(assembly: LabRecord | undefined, look: Look): (LabRecord & { kind: 'sample' }) | undefined {
  if (assembly?.kind !== 'assembly') return undefined
  const slot = assembly.slots.find((candidate) => candidate.slot === 'processor') ?? assembly.slots[0]
  const sample = look(slot?.sampleId)
  return sample?.kind === 'sample' ? sample : undefined
}

function nameOf(record: LabRecord | undefined): string | undefined {
  return record !== undefined && 'name' in record ? record.name : undefined
}

/** Most runs share their start, tune and workload with the run before. */
function rememberingLook(get: LabReader['get']): Look {
  const remembered = new Map<string, LabRecord | undefined>()
  return (id) => {
    if (id === undefined) return undefined
    if (!remembered.has(id)) {
      if (remembered.size >= MOST_REMEMBERED) remembered.clear()
      remembered.set(id, get(id))
    }
    return remembered.get(id)
  }
}

const MOST_REMEMBERED = 20_000
