// What lists show: counted in SQL or from small records, one page of runs parsed at a time. Kept until the next change.
import {
  COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES, type Found, type FoundKind, type LabInfo, type LabRecord, type PartRow, type RecordKind, type RecordOf, type RigRow, type Run, type RunRow, type RunsWanted, type TuneRow,
} from '@guardband/model'
import type { LabDatabase } from './database.ts'
import { sampleText } from './describe.ts'
import { createFindables, find } from './find.ts'
import type { RecordStore } from './record-store.ts'
import { createMemory } from './remember.ts'
import { countRuns, findRuns, isSearch, readStartTexts, type FoundRuns, type RunSurroundings } from './run-finder.ts'
import { createRunIndex, type RunGroup } from './run-index.ts'
import { startName } from './start-name.ts'

export interface Rows {
  readonly counts: () => LabInfo['counts']
  readonly parts: () => readonly PartRow[]
  readonly tunes: () => readonly TuneRow[]
  readonly rigs: () => readonly RigRow[]
  readonly runs: (wanted: RunsWanted) => { readonly rows: readonly RunRow[]; readonly total: number }
  /** Ids of the starts made with an assembly. */
  readonly startsIn: (assemblyId: string) => readonly string[]
  readonly digest: () => { readonly digest: string; readonly records: number }
  readonly find: (wanted: { readonly q: string; readonly kind?: FoundKind }) => Found
}

export function createRows(db: LabDatabase, store: RecordStore, head: () => number): Rows {
  const kindCounts = db.prepare<[], { kind: string; count: number }>('SELECT kind, count(*) AS count FROM record GROUP BY kind')
  const outcomeCounts = db.prepare<[], { outcome: string; count: number }>('SELECT outcome, count(*) AS count FROM record WHERE outcome IS NOT NULL GROUP BY outcome')
  const starts = db.prepare<[], { id: string; assembly: string; rig: string; at: string | null }>(
    `SELECT id, assembly_id AS assembly, rig_id AS rig, json_extract(body, '$.at') AS at FROM record WHERE kind = 'start'`,
  )
  const startsOf = db.prepare<[string], { id: string }>(`SELECT id FROM record INDEXED BY record_by_assembly WHERE assembly_id = ? AND kind = 'start' ORDER BY id`)
  const tunesInForce = db.prepare<[], { id: string; tune: string; start: string }>(`SELECT id, tune_id AS tune, start_id AS start FROM record WHERE kind = 'in force' AND tune_id IS NOT NULL`)
  const inForceWith = db.prepare<[string], string>(`SELECT id FROM record WHERE tune_id IN (SELECT value FROM json_each(?)) AND kind = 'in force'`).pluck()
  const journals = db.prepare<[], { rig: string; count: number }>('SELECT rig_id AS rig, count(*) AS count FROM journal WHERE rig_id IS NOT NULL GROUP BY rig_id')

  const memory = createMemory(db, head)
  const runIndex = createRunIndex(db, head)
  const runsPerStart = db.prepare<[], { start: string; count: number }>(`SELECT start_id AS start, count(*) AS count FROM record WHERE kind = 'run' GROUP BY start_id`)
  const latestRuns = db.prepare<[number, number], string>(`SELECT id FROM record INDEXED BY record_by_kind WHERE kind = 'run' ORDER BY id DESC LIMIT ? OFFSET ?`).pluck()
  const runCount = db.prepare<[], number>(`SELECT count(*) FROM record INDEXED BY record_by_kind WHERE kind = 'run'`).pluck()
  const runsOfStarts = memory.untilKinds(['run'], () => new Map(runsPerStart.all().map((row) => [row.start, row.count])))
  // All runs need no search: the first page of a large workspace does not wait for the index of them.
  const pageOf = (wanted: RunsWanted): FoundRuns => (isSearch(wanted) ? findRuns(around, wanted) : { ids: latestRuns.all(wanted.count, wanted.from), total: runCount.get() ?? 0 })
  const startRows = memory.untilKinds(['start'], () => starts.all())
  const tuneStretches = memory.untilKinds(['in force'], () => tunesInForce.all())
  const around: RunSurroundings = {
    runs: runIndex,
    starts: memory.untilKinds(['start', 'assembly', 'sample', 'part', 'tune', 'rig'], () => readStartTexts(store)),
    named: memory.untilKinds(['workload', 'tune'], () => [...store.list('workload'), ...store.list('tune')]),
    inForceWith: (tuneIds) => inForceWith.all(JSON.stringify(tuneIds)),
  }
  const findables = createFindables(store, memory)

  const runsBy = (keyOf: (group: RunGroup) => string): ReadonlyMap<string, number> => {
    const { groups, counts } = runIndex()
    const sums = new Map<string, number>()
    groups.forEach((group, place) => sums.set(keyOf(group), (sums.get(keyOf(group)) ?? 0) + counts[place]))
    return sums
  }

  return {
    counts: memory.untilChange(() => {
      const of = new Map(kindCounts.all().map((row) => [row.kind, row.count]))
      const count = (kind: LabRecord['kind']): number => of.get(kind) ?? 0
      let failedRuns = 0
      for (const row of outcomeCounts.all()) if (!UNFAILED.has(row.outcome)) failedRuns += row.count
      return {
        parts: count('part'), samples: count('sample'), tunes: count('tune'), starts: count('start'), runs: count('run'), questions: count('question'), reports: count('report'),
        rigs: count('rig'), failedRuns,
      }
    }),
    parts: memory.untilChange(() => {
      const tally = new Map<string, { starts: number; runs: number }>()
      const samplesOf = new Map(store.list('assembly').map((assembly) => [assembly.id, new Set(assembly.slots.map(({ sampleId }) => sampleId))]))
      const runs = runsOfStarts()
      for (const start of startRows()) {
        for (const sampleId of samplesOf.get(start.assembly) ?? []) {
          const sum = tally.get(sampleId) ?? { starts: 0, runs: 0 }
          tally.set(sampleId, { starts: sum.starts + 1, runs: sum.runs + (runs.get(start.id) ?? 0) })
        }
      }
      const samples = Map.groupBy(store.list('sample'), (sample) => sample.partId)
      return store.list('part').map((part) => ({
        part,
        samples: (samples.get(part.id) ?? []).map((sample) => ({ sample, ...(tally.get(sample.id) ?? { starts: 0, runs: 0 }) })),
      }))
    }),
    tunes: memory.untilChange(() => {
      const tunes = store.list('tune')
      const names = new Map(tunes.map((tune) => [tune.id, tune.name]))
      const stretches = Map.groupBy(tuneStretches(), ({ tune }) => tune)
      const runs = runsBy(({ inForceId }) => inForceId)
      return tunes.map((tune) => {
        const own = stretches.get(tune.id) ?? []
        return {
          tune,
          baseName: tune.baseId === undefined ? null : (names.get(tune.baseId) ?? null),
          starts: new Set(own.map(({ start }) => start)).size,
          runs: own.reduce((sum, { id }) => sum + (runs.get(id) ?? 0), 0),
        }
      })
    }),
    rigs: memory.untilChange(() => {
      const label = sampleLabels(store)
      const assemblies = Map.groupBy(store.list('assembly'), (assembly) => assembly.rigId)
      const mounts = Map.groupBy(store.list('mount'), (mount) => mount.assemblyId)
      const kept = new Map(journals.all().map((row) => [row.rig, row.count]))
      const byRig = Map.groupBy(startRows(), (start) => start.rig)
      return store.list('rig').map((rig) => ({
        rig,
        assemblies: (assemblies.get(rig.id) ?? []).map((assembly) => ({
          assembly,
          slots: assembly.slots.map(({ slot, sampleId }) => ({ slot, part: label(sampleId).part, sample: label(sampleId).sample })),
          mounts: mounts.get(assembly.id) ?? [],
        })),
        journals: kept.get(rig.id) ?? 0,
        lastStart: latest((byRig.get(rig.id) ?? []).map((start) => start.at)),
        starts: byRig.get(rig.id)?.length ?? 0,
      }))
    }),
    startsIn: (assemblyId) => startsOf.all(assemblyId).map(({ id }) => id),
    digest: memory.untilChange(() => ({ digest: store.digest(), records: kindCounts.all().reduce((sum, { count }) => sum + count, 0) })),
    find: (wanted) => find(findables(), wanted, () => countRuns(around, wanted.q)),
    runs: (wanted) => {
      const { ids, total } = pageOf(wanted)
      return { rows: runRows(ids.flatMap((id) => asRun(store.get(id))), store), total }
    },
  }
}

const UNFAILED: ReadonlySet<string> = new Set([...COMPARABLE_OUTCOMES, ...NEUTRAL_OUTCOMES])

function asRun(record: LabRecord | undefined): readonly Run[] {
  return record?.kind === 'run' ? [record] : []
}

function ofKind<Kind extends RecordKind>(record: LabRecord | undefined, kind: Kind): RecordOf<Kind> | undefined {
  // Narrowing by a generic kind is beyond the type checker; the line tests it.
  return record?.kind === kind ? (record as RecordOf<Kind>) : undefined
}

function latest(moments: readonly (string | null)[]): string | null {
  let best: string | null = null
  for (const moment of moments) if (moment !== null && (best === null || Date.parse(moment) > Date.parse(best))) best = moment
  return best
}

function sampleLabels(store: RecordStore): (sampleId: string) => { readonly part: string; readonly sample: string } {
  const parts = new Map(store.list('part').map((part) => [part.id, part.name]))
  const samples = new Map(store.list('sample').map((sample) => [sample.id, { part: parts.get(sample.partId) ?? '', sample: sample.label }]))
  return (id) => samples.get(id) ?? { part: '', sample: id }
}

/** Runs as lists show them, with the names that people know. */
export function runRows(runs: readonly Run[], store: RecordStore): readonly RunRow[] {
  const known = new Map<string, LabRecord | undefined>()
  const look = (id: string | undefined): LabRecord | undefined => {
    if (id === undefined) return undefined
    if (!known.has(id)) known.set(id, store.get(id))
    return known.get(id)
  }
  const nameOf = (id: string | undefined): string | null => {
    const record = look(id)
    return record !== undefined && 'name' in record ? record.name : null
  }
  return runs.map((run) => {
    const start = ofKind(look(run.startId), 'start')
    const inForce = ofKind(look(run.inForceId), 'in force')
    const workload = ofKind(look(run.workloadId), 'workload')
    const assembly = ofKind(look(start?.assemblyId), 'assembly')
    const slot = assembly?.slots.find((candidate) => candidate.slot === 'processor') ?? assembly?.slots[0]
    const sample = ofKind(look(slot?.sampleId), 'sample')
    return {
      id: run.id,
      at: run.at ?? start?.at ?? null,
      startId: run.startId,
      startLabel: start === undefined ? run.startId : startName(start, nameOf(start.tuneId)),
      rig: nameOf(start?.rigId) ?? '',
      sample: sample === undefined ? '' : sampleText(nameOf(sample.partId) ?? '', sample.label),
      tune: nameOf(inForce?.tuneId),
      asked: nameOf(start?.tuneId),
      known: inForce?.known ?? 'unverified',
      workload: workload?.name ?? '',
      outcome: run.outcome,
      place: run.place ?? null,
      measures: run.measures.map(({ name, value }) => ({ name, value, unit: workload?.measures.find((measure) => measure.name === name)?.unit ?? '' })),
      setAside: run.setAside?.reason ?? null,
    }
  })
}
