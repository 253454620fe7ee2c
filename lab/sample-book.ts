// Parts, samples and rigs whole: where samples sit and sat, what their runs come to, and how they stand against the bins of their part.
import {
  COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES, SpokenError, type Assembly, type Bin, type LabRecord, type Outcome, type PartWhole, type RigWhole, type Sample, type SampleWhole, type Start,
} from '@guardband/model'
import type { BinRow, SortingReply } from '@guardband/model/api/parts'
import { criterionText, dearestFirst, sortSample, type BinRun, type BinStart, type Sorting } from '@guardband/model/bins'
import { createJournalBook } from './intake/journal/journal-book.ts'
import type { LabCore } from './lab-core.ts'
import { startName } from './store/start-name.ts'

export interface SampleBook {
  readonly part: (id: string) => PartWhole
  readonly sample: (id: string) => SampleWhole
  readonly rig: (id: string) => RigWhole
}

export function createSampleBook({ folder, db, store, log }: Pick<LabCore, 'folder' | 'db' | 'store' | 'log'>): SampleBook {
  const journals = createJournalBook({ db, folder })
  const runsOf = db.prepare<[string], RunLine>(
    `SELECT id, start_id AS startId, in_force_id AS inForceId, workload_id AS workloadId, outcome, set_aside IS NOT NULL AS setAside
     FROM record INDEXED BY run_list WHERE kind = 'run' AND start_id IN (SELECT value FROM json_each(?))`,
  )
  const measuresOf = db.prepare<[string, string], { id: string; measures: string }>(
    `SELECT id, json_extract(body, '$.measures') AS measures FROM record
     WHERE kind = 'run' AND workload_id IN (SELECT value FROM json_each(?)) AND start_id IN (SELECT value FROM json_each(?)) AND outcome IN ('scored', 'passed')`,
  )
  const tunesInForce = db.prepare<[], { id: string; tuneId: string | null }>(`SELECT id, tune_id AS tuneId FROM record WHERE kind = 'in force'`)
  const starts = remember(() => store.list('start'))
  const inForce = remember(() => new Map(tunesInForce.all().map(({ id, tuneId }) => [id, tuneId])))
  const wholes = new Map<string, { readonly head: number; readonly whole: PartWhole }>()

  return {
    part: (id) => {
      const head = log.head()
      const kept = wholes.get(id)
      if (kept?.head === head) return kept.whole
      const part = ofKind(id, 'part')
      const samples = store.list('sample').filter(({ partId }) => partId === id)
      const bins = binsOf(id)
      const { startsOf, linesOf } = evidenceOf(samples)
      const sorted = sortAll(bins, samples, startsOf, linesOf)
      const seats = seatsNow()
      const whole: PartWhole = {
        part,
        bins: bins.map((bin) => binRow(bin)),
        samples: samples.map((sample) => {
          const own = startsOf(sample.id)
          return {
            sample, starts: own.length, runs: own.reduce((sum, start) => sum + linesOf(start.id).length, 0),
            seat: seats.get(sample.id) ?? null, sorting: sorted.get(sample.id) ?? NOT_SORTED,
          }
        }),
      }
      wholes.clear()
      wholes.set(id, { head, whole })
      return whole
    },

    sample: (id) => {
      const sample = ofKind(id, 'sample')
      const bins = binsOf(sample.partId)
      const { startsOf, linesOf } = evidenceOf([sample])
      const own = startsOf(id)
      const lines = own.flatMap((start) => linesOf(start.id))
      const workloads = [...Map.groupBy(lines, ({ workloadId }) => workloadId)].map(([workloadId, of]) => ({ name: nameOf(workloadId), runs: of.length, failed: of.filter(isFailed).length }))
      return {
        sample,
        part: ofKind(sample.partId, 'part'),
        stretches: stretchesOf(id, own),
        starts: own.length,
        runs: lines.length,
        failed: lines.filter(isFailed).length,
        setAside: lines.filter(({ setAside }) => setAside === 1).length,
        lastStart: latest(own),
        workloads: workloads.toSorted((a, b) => b.runs - a.runs || a.name.localeCompare(b.name)),
        bins: bins.map((bin) => binRow(bin)),
        sorting: sortAll(bins, [sample], startsOf, linesOf).get(id) ?? NOT_SORTED,
      }
    },

    rig: (id) => {
      ofKind(id, 'rig')
      const own = starts().filter(({ rigId }) => rigId === id).toSorted(newestFirst)
      const shown = own.slice(0, MOST_STARTS)
      const lines = Map.groupBy(runsOf.all(JSON.stringify(shown.map((start) => start.id))), ({ startId }) => startId)
      const [last] = own
      const cautions = journals.forks(id)
      return {
        starts: shown.map((start) => ({
          id: start.id, label: labelOf(start), at: start.at ?? null, how: start.how, result: start.result, assemblyId: start.assemblyId, mountId: start.mountId ?? null,
          runs: lines.get(start.id)?.length ?? 0, failed: lines.get(start.id)?.filter(isFailed).length ?? 0,
        })),
        total: own.length,
        last: last === undefined ? null : { startId: last.id, label: labelOf(last), conditions: last.conditions },
        ...(cautions.length === 0 ? {} : { cautions: [...cautions] }),
      }
    },
  }

  /** Recomputes only after a change, also one made by another process. */
  function remember<Value>(make: () => Value): () => Value {
    let kept: { readonly head: number; readonly value: Value } | undefined
    return () => {
      const head = log.head()
      if (kept?.head !== head) kept = { head, value: make() }
      return kept.value
    }
  }

  function ofKind<Kind extends 'part' | 'sample' | 'rig'>(id: string, kind: Kind): Extract<LabRecord, { kind: Kind }> {
    const record = store.get(id)
    // Narrowing by a generic kind is beyond the type checker; the line tests it.
    if (record?.kind === kind) return record as Extract<LabRecord, { kind: Kind }>
    throw new SpokenError({ code: `no-${kind}`, message: `there is no ${kind} ${id}.`, mend: `Choose one from the list of ${kind === 'rig' ? 'rigs' : 'parts'}.` })
  }

  function nameOf(id: string): string {
    const record = store.get(id)
    return record !== undefined && 'name' in record ? record.name : 'what is gone'
  }

  function labelOf(start: Start): string {
    return startName(start, start.tuneId === undefined ? null : nameOf(start.tuneId))
  }

  function binsOf(partId: string): readonly Bin[] {
    return dearestFirst(store.list('bin').filter((bin) => bin.partId === partId))
  }

  function unitOf(criterion: Bin['criteria'][number]): string {
    const workload = criterion.what === 'measure' ? store.get(criterion.workloadId) : undefined
    return workload?.kind === 'workload' && criterion.what === 'measure' ? (workload.measures.find(({ name }) => name === criterion.measure)?.unit ?? '') : ''
  }

  function binRow(bin: Bin): BinRow {
    return { bin, criteria: bin.criteria.map((criterion) => ({ text: criterionText(criterion, { nameOf, unit: unitOf(criterion) }), unit: unitOf(criterion) })) }
  }

  /** The starts that each of these samples sat in, and the runs of a start. */
  function evidenceOf(samples: readonly Sample[]): { readonly startsOf: (sampleId: string) => readonly Start[]; readonly linesOf: (startId: string) => readonly RunLine[] } {
    const wanted = new Set(samples.map(({ id }) => id))
    const seats = new Map(store.list('assembly').map(({ id, slots }) => [id, [...new Set(slots.map(({ sampleId }) => sampleId))].filter((sampleId) => wanted.has(sampleId))]))
    const bySample = new Map<string, Start[]>()
    const startIds: string[] = []
    for (const start of starts()) {
      const here = seats.get(start.assemblyId) ?? []
      if (here.length > 0) startIds.push(start.id)
      for (const sampleId of here) bySample.set(sampleId, [...(bySample.get(sampleId) ?? []), start])
    }
    const lines = Map.groupBy(runsOf.all(JSON.stringify(startIds)), ({ startId }) => startId)
    return { startsOf: (sampleId) => bySample.get(sampleId) ?? [], linesOf: (startId) => lines.get(startId) ?? [] }
  }

  function sortAll(bins: readonly Bin[], samples: readonly Sample[], startsOf: (id: string) => readonly Start[], linesOf: (id: string) => readonly RunLine[]): ReadonlyMap<string, SortingReply> {
    if (bins.length === 0) return new Map()
    const measured = new Set(bins.flatMap((bin) => bin.criteria.flatMap((criterion) => (criterion.what === 'measure' ? [criterion.workloadId] : []))))
    const startIds = [...new Set(samples.flatMap((sample) => startsOf(sample.id).map(({ id }) => id)))]
    const measures = new Map(
      // Written from checked records, as the store reads them.
      (measured.size === 0 ? [] : measuresOf.all(JSON.stringify([...measured]), JSON.stringify(startIds))).map(({ id, measures: text }) => [id, JSON.parse(text) as BinRun['measures']]),
    )
    const tunes = inForce()
    const startOf = (start: Start): BinStart => ({
      askedId: start.tuneId ?? null,
      cameUp: start.result === 'started',
      runs: linesOf(start.id).map((line) => ({ workloadId: line.workloadId, tuneId: tunes.get(line.inForceId) ?? null, outcome: line.outcome, measures: measures.get(line.id) ?? [], setAside: line.setAside === 1 })),
    })
    return new Map(samples.map((sample) => [sample.id, asReply(sortSample(bins, startsOf(sample.id).map(startOf)))]))
  }

  function seatsNow(): ReadonlyMap<string, { readonly rigId: string; readonly rig: string; readonly since: string }> {
    const seats = new Map<string, { rigId: string; rig: string; since: string }>()
    for (const [rigId, row] of assembliesByRig()) {
      const now = row.at(-1)
      for (const { sampleId } of now?.slots ?? []) seats.set(sampleId, { rigId, rig: nameOf(rigId), since: sinceIn(row, sampleId) })
    }
    return seats
  }

  function assembliesByRig(): ReadonlyMap<string, readonly Assembly[]> {
    const byRig = Map.groupBy(store.list('assembly'), ({ rigId }) => rigId)
    return new Map([...byRig].map(([rigId, row]) => [rigId, row.toSorted((a, b) => Date.parse(a.since) - Date.parse(b.since) || (a.id < b.id ? -1 : 1))]))
  }

  /** Assemblies that follow one another with the sample in the same place are one stretch. */
  function stretchesOf(sampleId: string, own: readonly Start[]): SampleWhole['stretches'] {
    const counts = Map.groupBy(own, ({ assemblyId }) => assemblyId)
    const stretches: SampleWhole['stretches'] = []
    for (const [rigId, row] of assembliesByRig()) {
      let open: SampleWhole['stretches'][number] | undefined
      for (const assembly of row) {
        const seat = assembly.slots.find((slot) => slot.sampleId === sampleId)
        if (open !== undefined && (seat === undefined || seat.slot !== open.slot || (seat.position ?? null) !== open.position)) {
          open.until = assembly.since
          open = undefined
        }
        if (seat === undefined) continue
        if (open === undefined) {
          open = { rigId, rig: nameOf(rigId), slot: seat.slot, position: seat.position ?? null, since: assembly.since, until: null, starts: 0 }
          stretches.push(open)
        }
        open.starts += counts.get(assembly.id)?.length ?? 0
      }
    }
    return stretches.toSorted((a, b) => Date.parse(b.since) - Date.parse(a.since))
  }
}

interface RunLine {
  readonly id: string
  readonly startId: string
  readonly inForceId: string
  readonly workloadId: string
  readonly outcome: Outcome
  readonly setAside: 0 | 1
}

const NOT_SORTED: SortingReply = { bins: [], suggestedId: null, openAboveIds: [] }
/** More than a person reads of one rig; the list of runs has them all. */
const MOST_STARTS = 200

function asReply({ bins, suggestedId, openAboveIds }: Sorting): SortingReply {
  return { bins: bins.map((bin) => ({ ...bin, criteria: [...bin.criteria] })), suggestedId, openAboveIds: [...openAboveIds] }
}

function isFailed({ outcome, setAside }: RunLine): boolean {
  return setAside === 0 && !COMPARABLE_OUTCOMES.has(outcome) && !NEUTRAL_OUTCOMES.has(outcome)
}

/** Starts without a time stand by their order, below all that have one. */
function newestFirst(a: Start, b: Start): number {
  return momentOf(b.at) - momentOf(a.at) || (b.order ?? 0) - (a.order ?? 0) || (a.id < b.id ? 1 : -1)
}

function momentOf(at: string | undefined): number {
  return at === undefined ? 0 : Date.parse(at)
}

function latest(starts: readonly Start[]): string | null {
  return starts.toSorted(newestFirst)[0]?.at ?? null
}

function sinceIn(row: readonly Assembly[], sampleId: string): string {
  let since = ''
  for (const assembly of row.toReversed()) {
    if (!assembly.slots.some((slot) => slot.sampleId === sampleId)) break
    since = assembly.since
  }
  return since
}
