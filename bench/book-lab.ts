// A large bench book: 50 tunes of 200 settings, 500 samples, 100,000 runs, and a little of everything else, made from a seed.
import { randomFillSync } from 'node:crypto'
import { createLab } from '@guardband/lab'
import { createIdFactory, type LabRecord, type RecordOf } from '@guardband/model'
import { manyRunsRecords } from '@guardband/simlab'
import { seededIds } from '@guardband/simlab/seeded-ids'

export const BOOK_SIZE = { tunes: 50, settings: 200, samples: 500, runs: 100_000 } as const

export interface BookLab {
  readonly records: readonly LabRecord[]
  readonly questionId: string
  readonly tuneIds: readonly [string, string]
  readonly partId: string
  readonly sampleId: string
  readonly runId: string
  readonly startId: string
  readonly sheetId: string
}

function bookLab(): BookLab {
  const { records: base, questionId } = manyRunsRecords(BOOK_SIZE.runs)
  const of = <Kind extends LabRecord['kind']>(kind: Kind): readonly RecordOf<Kind>[] => base.filter((record): record is RecordOf<Kind> => record.kind === kind)
  const newId = seededIds(SEED, 'bench book')
  const at = new Date(MADE_AT).toISOString()
  const id = (): string => newId(MADE_AT)

  const part = first(of('part').filter(({ slot }) => slot === 'processor'), 'part')
  const samples = Array.from({ length: BOOK_SIZE.samples - of('sample').length }, (_none, index): RecordOf<'sample'> => ({
    kind: 'sample', id: id(), partId: part.id, label: `tray ${1 + Math.floor(index / TRAY)}, place ${1 + (index % TRAY)}`, serial: `SIM${String(index).padStart(6, '0')}`,
    batch: `26-${10 + (index % 30)}`, origin: 'retail', picked: index % 3 === 0 ? 'at random' : 'unknown', status: 'bench',
  }))
  const settled = of('tune').map((tune): RecordOf<'tune'> => ({ ...tune, settings: settingsOf(tune.name.length) }))
  const more = Array.from({ length: BOOK_SIZE.tunes - settled.length }, (_none, index): RecordOf<'tune'> => ({
    kind: 'tune', id: id(), name: `step ${index + 1}`, ...(index === 0 ? {} : { baseId: settled[0].id }), settings: settingsOf(index),
  }))
  const rig = first(of('rig'), 'rig')
  const slots = [{ slot: 'processor' as const, sampleId: first(of('sample'), 'sample').id }]
  const sheet: RecordOf<'sheet'> = {
    kind: 'sheet', id: id(), name: 'Simulated day', rigId: rig.id, at, workloadIds: of('workload').map((workload) => workload.id), repeats: 2, conditions: {},
    starts: Array.from({ length: 24 }, (_none, index) => ({ startId: id(), tuneId: more[index % 2].id, how: 'cold' as const, slots })),
  }
  const ceiling: RecordOf<'ceiling'> = { kind: 'ceiling', id: id(), name: 'core voltage', settings: ['setting 1', 'setting 3'], unit: 'V', highest: 100 }
  const bin: RecordOf<'bin'> = { kind: 'bin', id: id(), name: 'first', partId: part.id, prices: [{ amount: 400, at }], criteria: [] }
  const run = first(of('run').slice(BOOK_SIZE.runs / 2), 'run')
  return {
    records: [...base.filter(({ kind }) => kind !== 'tune'), ...settled, ...more, ...samples, sheet, ceiling, bin].toSorted((a, b) => ORDER.indexOf(a.kind) - ORDER.indexOf(b.kind)),
    questionId, tuneIds: [more[0].id, more[1].id], partId: part.id, sampleId: slots[0].sampleId, runId: run.id, startId: run.startId, sheetId: sheet.id,
  }
}

const SEED = 50_200
const TRAY = 50
const MADE_AT = Date.UTC(2026, 10, 2, 8)
/** What is named comes before what names it. */
const ORDER: readonly LabRecord['kind'][] = ['part', 'sample', 'rig', 'assembly', 'mount', 'tune', 'workload', 'suite', 'start', 'in force', 'run']

function settingsOf(shift: number): RecordOf<'tune'>['settings'] {
  return Array.from({ length: BOOK_SIZE.settings }, (_none, index) => ({
    key: `setting ${index + 1}`,
    scope: index % 4 === 0 ? { level: 'core' as const, index: String(index % 8) } : { level: 'package' as const },
    asked: index % 9 === 0 ? { shape: 'auto' as const } : { shape: 'scalar' as const, value: 1 + ((index * 7 + shift) % 50) / 10, unit: index % 2 === 0 ? 'V' : 'W' },
  }))
}

function first<Value>(values: readonly Value[], what: string): Value {
  const [value] = values
  if (value === undefined) throw new Error(`the large lab must hold a ${what}; got none`)
  return value
}

/** The same, made as a workspace in `home`. */
export async function makeBookLab(home: string): Promise<BookLab> {
  const book = bookLab()
  const sources = { now: Date.now, newId: createIdFactory({ now: Date.now, fillRandom: (bytes) => void randomFillSync(bytes) }) }
  await createLab(home, { name: 'Large bench book', currency: 'EUR', simulated: true, records: book.records }, sources).close()
  return book
}
