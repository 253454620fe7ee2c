// A change being drawn up from names: what the workspace holds is found again, what it doesn't hold is made, and nothing is written.
import type { Assembly, Campaign, ChangeItem, LabRecord, Part, RecordOf, Rig, Sample, Slot, Start, Suite, Tune, Workload } from '@guardband/model'
import { canonicalJson } from '@guardband/model'
import type { LabCore } from '../lab-core.ts'

export interface Draft {
  readonly rig: (name: string) => Rig
  readonly partName: (id: string | undefined) => string | undefined
  readonly part: (name: string, slot: Slot) => Part
  readonly findSample: (label: string, slot: Slot) => readonly Sample[]
  /** Fills in what was unknown of a sample; what contradicts is left to the caller, who sees the sample returned. */
  readonly sample: (part: Part, wanted: Pick<Sample, 'label' | 'origin' | 'picked'> & { readonly batch?: string | undefined }) => Sample
  readonly assembly: (rig: Rig, slots: readonly { readonly slot: Slot; readonly sampleId: string }[], since: string) => Assembly
  readonly tune: (name: string, settings?: Tune['settings']) => Tune
  readonly findTune: (name: string) => Tune | undefined
  readonly workloads: (name: string) => readonly Workload[]
  /** Puts a new record, or a changed one, into the draft. */
  readonly put: (record: LabRecord) => void
  /** Puts in a start, stretch or run that this draft made, under an id that nothing had before. */
  readonly add: (record: LabRecord) => void
  readonly workload: (id: string) => Workload | undefined
  /** Makes sure that new workloads stand in the suite of all, weight 1, first measure. Call last. */
  readonly extendSuiteOfAll: () => void
  readonly suite: (name: string) => Suite | undefined
  readonly campaigns: () => readonly Campaign[]
  /** One more than the largest order among the rig's starts. */
  readonly nextOrder: (rig: Rig) => number
  readonly newId: () => string
  readonly items: () => readonly ChangeItem[]
  /** Records that were there and are put anew, as they were and as they will be. */
  readonly changed: <Kind extends LabRecord['kind']>(kind: Kind) => readonly { readonly before: RecordOf<Kind>; readonly after: RecordOf<Kind> }[]
  /** What was put and is new, by kind, in the order made; without what was added. */
  readonly made: (kind: LabRecord['kind']) => readonly LabRecord[]
}

export const SUITE_OF_ALL = 'All workloads'

export function createDraft(core: LabCore): Draft {
  const { store } = core
  const { newId } = core.sources
  const changed = new Map<string, ChangeItem>()
  /** Starts, stretches in force and runs: many, and each new. */
  const added: ChangeItem[] = []
  const rigs = byKey(store.list('rig'), (rig) => rig.name)
  const parts = byKey(store.list('part'), (part) => part.name)
  const samples = byKey(store.list('sample'), sampleKey)
  const tunes = byKey(store.list('tune'), (tune) => tune.name)
  const campaigns = new Map(store.list('campaign').map((campaign) => [campaign.id, campaign]))
  const suites = byKey(store.list('suite'), (suite) => suite.name)
  const assemblies = byKey(store.list('assembly'), (assembly) => assemblyKey(assembly.rigId, assembly.slots))
  const workloads = new Map(store.list('workload').map((workload) => [workload.id, workload]))
  const workloadsByName: Map<string, readonly Workload[]> = Map.groupBy(workloads.values(), (workload) => workload.name)

  const put = (record: LabRecord): void => {
    const earlier = changed.get(record.id)
    changed.set(record.id, { before: earlier === undefined ? (store.get(record.id) ?? null) : earlier.before, after: record })
    if (record.kind === 'workload') {
      const named = workloadsByName.get(record.name) ?? []
      workloadsByName.set(record.name, workloads.has(record.id) ? named.map((workload) => (workload.id === record.id ? record : workload)) : [...named, record])
      workloads.set(record.id, record)
    }
    if (record.kind === 'suite') suites.set(record.name, record)
    if (record.kind === 'campaign') campaigns.set(record.id, record)
  }
  const take = <Item extends LabRecord>(map: Map<string, Item>, key: string, make: () => Item): Item => {
    const found = map.get(key)
    if (found !== undefined) return found
    const record = make()
    map.set(key, record)
    put(record)
    return record
  }

  return {
    newId,
    put,
    add: (after) => void added.push({ before: null, after }),
    workload: (id) => workloads.get(id),
    rig: (name) => take(rigs, name, () => ({ kind: 'rig', id: newId(), name })),
    partName: (id) => [...parts.values()].find((part) => part.id === id)?.name,
    part: (name, slot) => take(parts, name, () => ({ kind: 'part', id: newId(), name, slot, prices: [] })),
    findSample: (label, slot) => {
      const slotOf = new Map([...parts.values()].map((part) => [part.id, part.slot]))
      return [...samples.values()].filter((sample) => sample.label === label && slotOf.get(sample.partId) === slot)
    },
    sample: (part, { label, batch, origin, picked }) => {
      const key = sampleKey({ partId: part.id, label })
      const sample = take(samples, key, () => ({ kind: 'sample', id: newId(), partId: part.id, label, ...(batch === undefined ? {} : { batch }), origin, picked, status: 'bench' }))
      const filled: Sample = {
        ...sample,
        ...(sample.batch === undefined && batch !== undefined ? { batch } : {}),
        origin: sample.origin === 'unknown' ? origin : sample.origin,
        picked: sample.picked === 'unknown' ? picked : sample.picked,
      }
      if (filled.batch === sample.batch && filled.origin === sample.origin && filled.picked === sample.picked) return sample
      samples.set(key, filled)
      put(filled)
      return filled
    },
    assembly: (rig, slots, since) =>
      take(assemblies, assemblyKey(rig.id, slots), () => ({ kind: 'assembly', id: newId(), rigId: rig.id, since, slots: slots.map(({ slot, sampleId }) => ({ slot, sampleId })) })),
    findTune: (name) => tunes.get(name),
    tune: (name, settings = []) => {
      const tune = take(tunes, name, () => ({ kind: 'tune', id: newId(), name, settings }))
      if (tune.settings.length > 0 || settings.length === 0) return tune
      const filled: Tune = { ...tune, settings }
      tunes.set(name, filled)
      put(filled)
      return filled
    },
    workloads: (name) => workloadsByName.get(name) ?? [],
    suite: (name) => suites.get(name),
    campaigns: () => [...campaigns.values()],
    extendSuiteOfAll: () => {
      const suite = suites.get(SUITE_OF_ALL)
      const listed = new Set(suite?.items.map(({ workloadId }) => workloadId))
      // A workload that a person took out of the suite stays out: only new ones are added to one that is there. One that only passes or fails has nothing to weigh.
      const wanted = [...workloads.values()].filter(({ id, measures }) => measures.length > 0 && !listed.has(id) && (suite === undefined || store.kindOf(id) === undefined))
      if (wanted.length === 0) return
      const items = [...(suite?.items ?? []), ...wanted.map((workload) => ({ workloadId: workload.id, measure: workload.measures[0].name, weight: 1 }))]
      put(suite === undefined ? { kind: 'suite', id: newId(), name: SUITE_OF_ALL, items } : { ...suite, items })
    },
    nextOrder: (rig) => {
      const top = core.db
        .prepare<[string], { top: number | null }>(`SELECT max(json_extract(body, '$.order')) AS top FROM record WHERE kind = 'start' AND rig_id = ?`)
        .get(rig.id)?.top
      return (top ?? -1) + 1
    },
    items: () => [...[...changed.values()].filter(({ before, after }) => before === null || canonicalJson(before) !== canonicalJson(after)), ...added],
    changed: <Kind extends LabRecord['kind']>(kind: Kind) =>
      [...changed.values()].flatMap(({ before, after }) =>
        // Narrowing by a generic kind is beyond the type checker; the line tests it.
        before?.kind === kind && after?.kind === kind ? [{ before: before as RecordOf<Kind>, after: after as RecordOf<Kind> }] : [],
      ),
    made: (kind) => [...changed.values()].flatMap(({ before, after }) => (before === null && after?.kind === kind ? [after] : [])),
  }
}

/** What a start's file and label are called in its record. */
export function sourceText(file: string, mark: string, label: string): Start['source'] {
  return `${file.slice(0, LONGEST_SOURCE - mark.length - label.length)}${mark}${label}`
}

/** As the schema of a start allows. */
const LONGEST_SOURCE = 300

function sampleKey({ partId, label }: Pick<Sample, 'partId' | 'label'>): string {
  return JSON.stringify([partId, label])
}

/** The same samples in the same slots of the same rig are one assembly, whatever order they are listed in. */
function assemblyKey(rigId: string, slots: readonly { readonly slot: Slot; readonly sampleId: string }[]): string {
  return JSON.stringify([rigId, ...slots.map(({ slot, sampleId }) => `${slot} ${sampleId}`).toSorted()])
}

function byKey<Item>(records: readonly Item[], key: (record: Item) => string): Map<string, Item> {
  // Of several with one name the latest counts.
  return new Map(records.map((record) => [key(record), record]))
}
