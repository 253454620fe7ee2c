// Builds the Snapshot of a Gain question from the records: everything that compute needs, in an order that depends on content alone.
import {
  comparisonOf, SpokenError, type Assembly, type GainAbout, type GainSnapshot, type GainStart, type GainWorkload, type InForce, type Question, type Run, type Sample, type Start, type Suite,
} from '@guardband/model'
import { labRecord, type LabCore } from '../lab-core.ts'
import { describeRecord, sampleText } from '../store/describe.ts'
import { changeOverCosts } from './costs.ts'
import { compareText, momentOf, placesOnRig } from './places.ts'
import { sampleInSlot, sortSides, type Stretch } from './sides.ts'

export function gainSnapshot(core: Pick<LabCore, 'db' | 'store'>, question: Question): GainSnapshot {
  const { store } = core
  const about = question.ask.about
  const names = new Map([...store.list('part'), ...store.list('tune'), ...store.list('rig')].map((record) => [record.id, record.name]))
  const samples = new Map(store.list('sample').map((sample) => [sample.id, sample]))
  const assemblies = new Map(store.list('assembly').map((assembly) => [assembly.id, assembly]))
  const lab = labRecord(core)
  const workloads = suiteWorkloads(core, about.suiteId)

  const starts = store.list('start')
  const stretches = readStretches(starts, store.list('in force'), assemblies, about.slot)
  const sides = sortSides(about, stretches, samples, (start) => describeRecord(start, store.get))
  const { of: places, clockless } = placesOnRig(core, stretches)
  const chosen = stretches
    .flatMap((stretch) => {
      const side = sides.sideOf(stretch)
      return side === null ? [] : [{ stretch, side }]
    })
    .toSorted((a, b) => compareText(a.stretch.start.rigId, b.stretch.start.rigId) || placeOf(places, a.stretch) - placeOf(places, b.stretch))

  const runs = readRuns(core, new Set(chosen.map(({ stretch }) => stretch.start.id)))
  // A start without a run of this suite says nothing here; leaving it out keeps the answer fresh while other work goes on.
  const used = chosen.filter(({ stretch }) => (runs.get(stretch.inForce.id) ?? []).some((run) => workloads.rowsOf.has(run.workloadId)))
  const usedSamples = [...new Set(used.flatMap(({ stretch }) => stretch.sampleId ?? []))].toSorted(compareText)
  const sampleIndex = new Map(usedSamples.map((id, index) => [id, index]))
  const partner = partnerLabels(starts, assemblies, samples, names)

  const failed = failedStarts(starts, stretches, assemblies, about, sides.askedSide)
  const sideLabel = (side: GainAbout['a']): GainSnapshot['sides'][0] => {
    const part = side.partId === undefined ? undefined : names.get(side.partId)
    const tune = side.tuneId === undefined ? undefined : names.get(side.tuneId)
    return { label: side.label ?? labelOf(part, tune, side, samples), ...(part === undefined ? {} : { part }), ...(tune === undefined ? {} : { tune }) }
  }
  const pair: GainSnapshot['sides'] = [sideLabel(about.a), sideLabel(about.b)]
  return {
    schema: 1,
    kind: 'gain',
    question: { id: question.id, title: question.title ?? `${pair[1].label} against ${pair[0].label}` },
    lab: { name: lab.name, currency: lab.currency, simulated: lab.simulated },
    slot: about.slot,
    sides: pair,
    samples: usedSamples.map((id) => gainSample(samples.get(id) ?? missing('sample', id), names)),
    starts: used.map(({ stretch, side }) => {
      const { start, inForce, place, of, sampleId } = stretch
      const at = clockless.has(start.rigId) ? undefined : place === 0 ? start.at : (inForce.from ?? start.at)
      const partners = { ...partner(start.assemblyId, sampleId), ...(sides.severalTunes ? { tune: names.get(inForce.tuneId ?? '') ?? '' } : {}) }
      return {
        id: of > 1 ? inForce.id : start.id,
        side,
        sample: sampleIndex.get(sampleId ?? '') ?? missing('sample', String(sampleId)),
        rig: names.get(start.rigId) ?? start.rigId,
        partners,
        ...(start.mountId === undefined ? {} : { mount: start.mountId }),
        ...(at === undefined ? {} : { at }),
        order: placeOf(places, stretch),
        how: place === 0 ? start.how : 'live',
        ...(start.training === undefined ? {} : { training: start.training }),
        conditions: start.conditions,
        known: inForce.known,
      } satisfies GainStart
    }),
    workloads: workloads.rows,
    runs: runColumns(used.map(({ stretch }) => stretch), runs, workloads),
    failedStarts: failed,
    ...pastCeilings(core, used.flatMap(({ stretch }) => stretch.inForce.tuneId ?? [])),
    smallestGain: about.smallestGain,
    ...(about.money === undefined ? {} : { money: about.money }),
    costs: changeOverCosts(core),
  }
}

interface SuiteWorkloads {
  readonly rows: GainWorkload[]
  /** Workload id to the rows that compare one of its measures. */
  readonly rowsOf: ReadonlyMap<string, readonly { readonly row: number; readonly measure: string }[]>
}

function suiteWorkloads({ store }: Pick<LabCore, 'store'>, suiteId: string): SuiteWorkloads {
  const suite = store.get(suiteId)
  if (suite?.kind !== 'suite') throw new SpokenError({ code: 'no-suite', message: `there is no suite ${suiteId}.`, mend: 'Ask the question with another suite.' })
  const several = Map.groupBy(suite.items, (item) => item.workloadId)
  const rows = suite.items.map((item) => workloadRow(store.get(item.workloadId), item, (several.get(item.workloadId)?.length ?? 0) > 1))
  const rowsOf = Map.groupBy(
    suite.items.map((item, row) => ({ row, measure: item.measure, workloadId: item.workloadId })),
    ({ workloadId }) => workloadId,
  )
  return { rows, rowsOf }
}

function workloadRow(workload: ReturnType<LabCore['store']['get']>, item: Suite['items'][number], byMeasure: boolean): GainWorkload {
  if (workload?.kind !== 'workload') return missing('workload', item.workloadId)
  const measure = workload.measures.find(({ name }) => name === item.measure) ?? missing('measure', item.measure)
  return {
    id: byMeasure ? `${workload.id}:${measure.name}` : workload.id,
    label: byMeasure ? `${workload.name}, ${measure.name}` : workload.name,
    ...(workload.group === undefined || workload.group === '' ? {} : { group: workload.group }),
    measure: measure.name,
    unit: measure.unit,
    compares: comparisonOf(measure.unit),
    direction: measure.direction,
    weight: item.weight,
    ...(measure.resolution === undefined ? {} : { resolution: measure.resolution }),
    ...(measure.matters === undefined ? {} : { matters: measure.matters }),
  }
}

function readStretches(starts: readonly Start[], inForce: readonly InForce[], assemblies: ReadonlyMap<string, Assembly>, slot: GainAbout['slot']): readonly Stretch[] {
  const byStart = Map.groupBy(inForce, (record) => record.startId)
  return starts.flatMap((start) => {
    const records = (byStart.get(start.id) ?? []).toSorted((a, b) => momentOf(a.from) - momentOf(b.from) || compareText(a.id, b.id))
    const sampleId = sampleInSlot(assemblies.get(start.assemblyId), slot)
    return records.map((record, place) => ({ start, inForce: record, place, of: records.length, sampleId }))
  })
}

function placeOf(places: ReadonlyMap<string, number>, { inForce }: Stretch): number {
  return places.get(inForce.id) ?? missing('in force', inForce.id)
}

/** Runs by the in-force record that they ran under, those of one start in the order of their ids. */
function readRuns({ db }: Pick<LabCore, 'db'>, startIds: ReadonlySet<string>): ReadonlyMap<string, readonly Run[]> {
  const rows = db.prepare<[string], string>(`SELECT body FROM record WHERE kind = 'run' AND start_id IN (SELECT value FROM json_each(?))`).pluck().all(JSON.stringify([...startIds]))
  const runs = new Map<string, Run[]>()
  for (const body of rows) {
    const run = JSON.parse(body) as Run
    const list = runs.get(run.inForceId)
    if (list === undefined) runs.set(run.inForceId, [run])
    else list.push(run)
  }
  return runs
}

function runColumns(used: readonly Stretch[], runs: ReadonlyMap<string, readonly Run[]>, workloads: SuiteWorkloads): GainSnapshot['runs'] {
  const columns: GainSnapshot['runs'] = { id: [], start: [], workload: [], order: [], outcome: [], value: [], seconds: [], setAside: [] }
  used.forEach(({ inForce }, start) => {
    const rows = (runs.get(inForce.id) ?? []).flatMap((run) => (workloads.rowsOf.get(run.workloadId) ?? []).map(({ row, measure }) => ({ run, row, measure })))
    rows.sort((a, b) => a.row - b.row || a.run.order - b.run.order || compareText(a.run.id, b.run.id))
    for (const { run, row, measure } of rows) {
      columns.id.push(run.id)
      columns.start.push(start)
      columns.workload.push(row)
      columns.order.push(run.order)
      columns.outcome.push(run.outcome)
      columns.value.push(run.measures.find(({ name }) => name === measure)?.value ?? null)
      columns.seconds.push(run.exposure?.seconds ?? null)
      columns.setAside.push(run.setAside?.reason ?? null)
    }
  })
  return columns
}

/** Starts asked for a side's tune with its sample that never ran, or where what was in force matches no tune. */
function failedStarts(
  starts: readonly Start[],
  stretches: readonly Stretch[],
  assemblies: ReadonlyMap<string, Assembly>,
  about: GainAbout,
  askedSide: ReturnType<typeof sortSides>['askedSide'],
): GainSnapshot['failedStarts'] {
  const matched = new Set(stretches.flatMap(({ start, inForce }) => (inForce.tuneId === undefined ? [] : [start.id])))
  return starts
    .filter((start) => start.result !== 'started' || !matched.has(start.id))
    .flatMap((start) => {
      const side = askedSide(start, sampleInSlot(assemblies.get(start.assemblyId), about.slot))
      return side === null ? [] : [{ id: start.id, side, result: start.result === 'started' ? NOT_AS_ASKED : start.result }]
    })
    .toSorted((a, b) => compareText(a.id, b.id))
}

/** The machine started, but what was read back was no tune that is known. */
const NOT_AS_ASKED = 'not in force as asked'

/** By assembly: what else sat in the machine, by slot. The sample is named where its part was run with several. */
function partnerLabels(
  starts: readonly Start[],
  assemblies: ReadonlyMap<string, Assembly>,
  samples: ReadonlyMap<string, Sample>,
  names: ReadonlyMap<string, string>,
): (assemblyId: string, compared: string | undefined) => Record<string, string> {
  const seen = new Map<string, Set<string>>()
  for (const assemblyId of new Set(starts.map((start) => start.assemblyId))) {
    for (const { sampleId } of assemblies.get(assemblyId)?.slots ?? []) {
      const partId = samples.get(sampleId)?.partId ?? ''
      seen.set(partId, (seen.get(partId) ?? new Set()).add(sampleId))
    }
  }
  return (assemblyId, compared) => {
    const bySlot = new Map<string, string[]>()
    for (const { slot, sampleId } of assemblies.get(assemblyId)?.slots ?? []) {
      if (sampleId === compared) continue
      const sample = samples.get(sampleId)
      const part = names.get(sample?.partId ?? '') ?? ''
      const label = sample !== undefined && (seen.get(sample.partId)?.size ?? 0) > 1 ? sampleText(part, sample.label) : part
      bySlot.set(slot, [...(bySlot.get(slot) ?? []), label])
    }
    return Object.fromEntries([...bySlot].map(([slot, labels]) => [slot, labels.toSorted(compareText).join(' + ')]))
  }
}

function gainSample(sample: Sample, names: ReadonlyMap<string, string>): GainSnapshot['samples'][number] {
  return {
    id: sample.id,
    label: sample.label,
    part: names.get(sample.partId) ?? '',
    ...(sample.batch === undefined ? {} : { batch: sample.batch }),
    origin: sample.origin,
    picked: sample.picked,
    status: sample.status,
  }
}

function pastCeilings({ store }: Pick<LabCore, 'store'>, tuneIds: readonly string[]): Pick<GainSnapshot, 'pastCeilings'> {
  const passed = [...new Set(tuneIds)].flatMap((id) => {
    const tune = store.get(id)
    return tune?.kind === 'tune' && tune.override !== undefined ? [{ tune: tune.name, reason: tune.override.reason, by: tune.override.by }] : []
  })
  return passed.length === 0 ? {} : { pastCeilings: passed.toSorted((a, b) => compareText(a.tune, b.tune) || compareText(a.reason, b.reason)) }
}

function labelOf(part: string | undefined, tune: string | undefined, side: GainAbout['a'], samples: ReadonlyMap<string, Sample>): string {
  const what = part !== undefined && tune !== undefined ? `${part} at ${tune}` : (part ?? tune ?? '')
  if (side.sampleIds === undefined) return what
  return `${what} (${side.sampleIds.map((id) => samples.get(id)?.label ?? id).join(', ')})`
}

/** By code units: the same on every machine, whatever its language. */
function missing(kind: string, id: string): never {
  throw new SpokenError({ code: 'missing-reference', message: `the workspace names a ${kind} ${id} that it does not hold.`, mend: 'Run the check on it.' })
}
