// Typed rows to records: rows are gathered into starts, names are matched with what the workspace holds, contradictions become problems.
import { comparisonOf, convert, findUnit, type BookedRow, type InForce, type Known, type Measure, type Part, type Run, type Sample, type Start, type Workload } from '@guardband/model'
import { sampleText } from '../../store/describe.ts'
import { LABEL_MARK } from '../../store/start-name.ts'
import { sourceText, type Draft } from '../draft.ts'
import type { CameFrom, DrawnStart, KnownStarts, Standing } from './known-starts.ts'
import type { Problems } from './problems.ts'
import { TABLE_DEFAULTS, START_OUTCOMES, type RunLine, type RowValue } from './read-rows.ts'

export interface BuiltCounts {
  readonly runs: number
  /** Starts that runs come for: new ones, and those that go on. */
  readonly starts: number
  /** Starts that are here already, with all that the file says of them. */
  readonly startsHere: number
  readonly remarks: readonly string[]
  /** The first runs, as they are booked. */
  readonly booked: readonly BookedRow[]
}

export interface BuildContext {
  readonly file: string
  readonly now: string
  readonly problems: Problems
  readonly known: KnownStarts
  /** Called with the share of the starts that are drawn up; may throw to stop. */
  readonly onProgress: (done: number) => void
}

/** Draws up every record of the file in `draft`. With problems, the draft must not be written. */
export function buildRecords(rows: readonly RunLine[], draft: Draft, context: BuildContext): BuiltCounts {
  const groups = groupByStart(rows, draft, context.problems)
  const orders = new Map<string, number>()
  const here: CameFrom[] = []
  const grown: string[] = []
  const booked: BookedRow[] = []
  let runs = 0
  let drawnStarts = 0
  for (const group of groups) {
    const [first] = group
    if (drawnStarts++ % STARTS_A_STEP === 0) context.onProgress(drawnStarts / groups.length)
    const rig = draft.rig(first.row.rig)
    const order = orders.get(rig.id) ?? draft.nextOrder(rig)
    const times = group.flatMap(({ row }) => row.at ?? []).toSorted()
    const assembly = draft.assembly(rig, [{ slot: first.row.slot, sampleId: first.sample.id }], times[0] ?? context.now)
    const start = buildStart(group.map(({ row }) => row), { id: draft.newId(), rigId: rig.id, assemblyId: assembly.id, order, times, draft }, context)
    const drawn: DrawnStart = { label: first.row.start, start, ...buildRuns(group, start, draft, context.problems) }
    if (booked.length < BOOKED_SHOWN) bookedInto(booked, { start, group, runs: drawn.runs, rigName: rig.name, draft })
    // Lines with a problem are missing from what was drawn: nothing can be said of it then.
    const standing: Standing = context.problems.all().length > 0 ? { is: 'new' } : context.known.standing(drawn)
    if (standing.is === 'new') {
      orders.set(rig.id, order + 1)
      draft.add(start)
      for (const record of drawn.inForce) draft.add(record)
      for (const record of drawn.runs) draft.add(record)
      runs += drawn.runs.length
    } else if (standing.is === 'grown') {
      draft.put(standing.start)
      for (const record of standing.runs) draft.add(record)
      runs += standing.runs.length
      grown.push(`"${drawn.label}" (${fromText(standing.from)})`)
    } else if (standing.is === 'here') here.push(standing.from)
    else {
      context.problems.add(
        { line: first.row.line, column: 'start' },
        `start "${drawn.label}" is here already (${fromText(standing.from)}), but ${standing.what}.`,
        `Make the two agree, or leave it out, or take change ${standing.from.change} back and take in this file whole; another power-on needs another label or its time.`,
      )
    }
  }
  draft.extendSuiteOfAll()
  return { runs, starts: groups.length - here.length, startsHere: here.length, remarks: [...hereRemarks(here, groups.length), ...grownRemarks(grown), ...newMeasureRemarks(draft)], booked }
}

const STARTS_A_STEP = 100
/** As many as a person looks through. */
const BOOKED_SHOWN = 12

function bookedInto(booked: BookedRow[], { start, group, runs, rigName, draft }: { readonly start: Start; readonly group: readonly Placed[]; readonly runs: readonly Run[]; readonly rigName: string; readonly draft: Draft }): void {
  const [{ row: first, sample }] = group
  const shared = { rig: rigName, sample: sampleText(draft.partName(sample.partId) ?? '', sample.label), start: first.start }
  if (runs.length === 0) booked.push({ line: first.line, ...shared, tune: first.tune, workload: '', measures: [], outcome: start.result, at: start.at ?? null })
  const rows = group.flatMap(({ row }) => (START_OUTCOMES.has(row.outcome) ? [] : [row]))
  runs.slice(0, BOOKED_SHOWN - booked.length).forEach((run, index) => {
    const row = rows[index] ?? first
    const workload = draft.workload(run.workloadId)
    const measures = run.measures.map(({ name, value }) => ({ name, value, unit: workload?.measures.find((measure) => measure.name === name)?.unit ?? '' }))
    booked.push({ line: row.line, ...shared, tune: row.tune, workload: workload?.name ?? '', measures, outcome: run.outcome, at: run.at ?? start.at ?? null })
  })
}

type Placed = { readonly row: RunLine; readonly sample: Sample }

/** Rows of one rig, sample and label are of one start. Neighbouring rows mostly share all that they say of their sample. */
function groupByStart(rows: readonly RunLine[], draft: Draft, problems: Problems): readonly (readonly Placed[])[] {
  const groups = new Map<string, Placed[]>()
  let before: Placed | undefined
  for (const row of rows) {
    const sample = before !== undefined && saysTheSame(before.row, row) ? before.sample : sampleOf(row, draft, problems)
    before = { row, sample }
    const key = `${row.rig}\n${sample.id}\n${row.start}`
    const group = groups.get(key)
    if (group === undefined) groups.set(key, [before])
    else group.push(before)
  }
  return [...groups.values()]
}

function saysTheSame(one: RunLine, other: RunLine): boolean {
  return one.part === other.part && one.sample === other.sample && one.slot === other.slot && one.batch === other.batch && one.origin === other.origin && one.picked === other.picked
}

function hereRemarks(here: readonly CameFrom[], all: number): readonly string[] {
  if (here.length === 0) return []
  const from = listed([...new Set(here.map(fromText))])
  return [`${here.length} of ${all} ${all === 1 ? 'start' : 'starts'} ${here.length === 1 ? 'is' : 'are'} here already (${from}).${here.length < all ? ' Only the rest comes in.' : ''}`]
}

function grownRemarks(grown: readonly string[]): readonly string[] {
  if (grown.length === 0) return []
  return [`${grown.length === 1 ? 'A start that is here goes' : `${grown.length} starts that are here go`} on with new runs: ${listed(grown)}.`]
}

/** A measure that a known workload did not have may be a slip in a header. */
function newMeasureRemarks(draft: Draft): readonly string[] {
  return draft.changed('workload').flatMap(({ before, after }) => {
    const had = new Set(before.measures.map(({ name }) => name))
    return after.measures.filter(({ name }) => !had.has(name)).map(({ name, unit, direction }) => `New measure "${name}" of "${after.name}", in ${unit}: ${direction}.`)
  })
}

function fromText({ file, change }: CameFrom): string {
  return `${file}, change ${change}`
}

function listed(texts: readonly string[]): string {
  const more = texts.length - MOST_LISTED
  return `${texts.slice(0, MOST_LISTED).join('; ')}${more > 0 ? `; and ${more} more` : ''}`
}

/** More would hide the sentence that they stand in. */
const MOST_LISTED = 6

function sampleOf(row: RunLine, draft: Draft, problems: Problems): Sample {
  const part = partOf(row, draft, problems)
  if (part.slot !== row.slot) {
    problems.add({ line: row.line, column: 'slot' }, `part "${part.name}" sits in the slot ${part.slot}; this line says ${row.slot}.`, 'Correct the slot, or give the other part another name.')
  }
  const sample = draft.sample(part, { label: row.sample, batch: row.batch, origin: row.origin ?? 'unknown', picked: row.picked ?? 'unknown' })
  const contradicts = (column: 'batch' | 'origin' | 'picked'): void => {
    const said = row[column]
    if (said === undefined || said === 'unknown' || sample[column] === said) return
    problems.add({ line: row.line, column }, `sample "${sample.label}" has ${column} "${sample[column] ?? ''}" already; this line says "${said}".`, 'Make them agree, or change the sample first.')
  }
  contradicts('batch')
  contradicts('origin')
  contradicts('picked')
  return sample
}

/** Without a part's name: the only sample with this label says it; else the part is one without a name. */
function partOf(row: RunLine, draft: Draft, problems: Problems): Part {
  if (row.part !== undefined) return draft.part(row.part, row.slot)
  const found = draft.findSample(row.sample, row.slot)
  if (found.length > 1) {
    problems.add({ line: row.line, column: 'sample' }, `${found.length} parts have a sample "${row.sample}".`, 'Add a column "part" that says which is meant.')
  }
  return draft.part(draft.partName(found[0]?.partId) ?? `unnamed ${row.slot}`, row.slot)
}

interface StartFrame {
  readonly id: string
  readonly rigId: string
  readonly assemblyId: string
  readonly order: number
  readonly times: readonly string[]
  readonly draft: Draft
}

function buildStart(rows: readonly RunLine[], frame: StartFrame, { file, problems }: Pick<BuildContext, 'file' | 'problems'>): Start {
  const [first] = rows
  const one = <Value extends string>(column: 'firmware' | 'system', pick: (row: RunLine) => Value | undefined): Value | undefined => {
    const said = rows.find((row) => pick(row) !== undefined)
    if (said === undefined) return undefined
    const other = rows.find((row) => pick(row) !== undefined && pick(row) !== pick(said))
    if (other !== undefined) {
      problems.add({ line: other.line, column }, `start "${first.start}" has "${pick(other) ?? ''}" here and "${pick(said) ?? ''}" on line ${said.line}.`, 'Within one start it stays the same; give the other runs another start.')
    }
    return pick(said)
  }
  const firmware = one('firmware', (row) => row.firmware)
  const systemImage = one('system', (row) => row.system)
  const ambients = rows.flatMap((row) => row.ambient ?? [])
  const failing = rows.find((row) => START_OUTCOMES.has(row.outcome))
  const others = rows.filter((row) => !START_OUTCOMES.has(row.outcome))
  if (failing !== undefined && failing.outcome !== 'fallback start' && others.length > 0) {
    problems.add({ line: failing.line, column: 'outcome' }, `start "${first.start}" says "${failing.outcome}" here, but has runs (line ${others[0].line}).`, 'Give the failed start a label of its own.')
  }
  const otherFailure = rows.find((row) => failing !== undefined && START_OUTCOMES.has(row.outcome) && row.outcome !== failing.outcome)
  if (failing !== undefined && otherFailure !== undefined) {
    problems.add({ line: otherFailure.line, column: 'outcome' }, `start "${first.start}" says "${otherFailure.outcome}" here and "${failing.outcome}" on line ${failing.line}.`, 'Keep one of the two.')
  }
  return {
    kind: 'start',
    id: frame.id,
    rigId: frame.rigId,
    assemblyId: frame.assemblyId,
    tuneId: frame.draft.tune(first.tune).id,
    ...(frame.times[0] === undefined ? {} : { at: frame.times[0] }),
    order: frame.order,
    how: startHow(rows, problems),
    // The outcomes of a start are also results of a start.
    result: failing === undefined ? 'started' : (failing.outcome as Start['result']),
    ...(failing?.outcome === 'fallback start' ? { training: { result: 'fallback' as const } } : {}),
    conditions: {
      ...(firmware === undefined ? {} : { firmware }),
      ...(systemImage === undefined ? {} : { systemImage }),
      // Read per run, kept per start: their mean.
      ...(ambients.length === 0 ? {} : { ambient: ambients.reduce((sum, value) => sum + value, 0) / ambients.length }),
    },
    source: sourceText(file, LABEL_MARK, first.start),
  }
}

/** The first line that says how decides; later lines may say "live" where another tune begins. */
function startHow(rows: readonly RunLine[], problems: Problems): Start['how'] {
  const said = rows.find((row) => row.how !== undefined)
  if (said?.how === undefined) return TABLE_DEFAULTS.how
  for (const row of rows) {
    if (row.how === undefined || row.how === said.how || (row.how === 'live' && row.tune !== rows[0].tune)) continue
    problems.add({ line: row.line, column: 'how' }, `start "${row.start}" came about "${row.how}" here and "${said.how}" on line ${said.line}.`, 'Give these runs a start of their own.')
    break
  }
  return said.how
}

function buildRuns(all: readonly Placed[], start: Start, draft: Draft, problems: Problems): Pick<DrawnStart, 'inForce' | 'runs'> {
  const rows = all.flatMap(({ row }) => (START_OUTCOMES.has(row.outcome) ? [] : [row]))
  const stretches = [...Map.groupBy(rows, (row) => row.tune).entries()]
  const inForce = new Map(
    stretches.map(([tune, held]) => {
      const from = stretches.length > 1 ? held.flatMap((row) => row.at ?? []).toSorted()[0] : undefined
      const record: InForce = {
        kind: 'in force',
        id: draft.newId(),
        startId: start.id,
        ...(from === undefined ? {} : { from }),
        // At fallback the tune asked for was not in force, whatever the file calls it.
        ...(start.result === 'started' ? { tuneId: draft.tune(tune).id } : {}),
        known: leastCertain(held),
        settings: [],
      }
      return [tune, record] as const
    }),
  )
  const runs = new Map<number, { readonly row: RunLine; readonly run: Run }>()
  let next = 0
  for (const row of rows) {
    const workload = workloadOf(row, draft, problems)
    const order = row.order ?? next
    next = Math.max(next, order + 1)
    const measures = measuresOf(row, workload, problems)
    const same = runs.get(order)
    if (same !== undefined) {
      const joined = joinMeasure(same, row, measures, workload, problems)
      runs.set(order, { row: same.row, run: joined })
      continue
    }
    const held = inForce.get(row.tune)
    if (held === undefined) continue
    runs.set(order, {
      row,
      run: {
        kind: 'run',
        id: draft.newId(),
        startId: start.id,
        inForceId: held.id,
        workloadId: workload.id,
        order,
        ...(row.at === undefined ? {} : { at: row.at }),
        outcome: row.outcome,
        ...(row.phase === undefined ? {} : { phase: row.phase }),
        ...(row.place === undefined ? {} : { place: row.place }),
        measures,
        ...(row.seconds === undefined ? {} : { exposure: { seconds: row.seconds } }),
        ...(row.note === undefined ? {} : { note: row.note }),
      },
    })
  }
  return { inForce: [...inForce.values()], runs: [...runs.values()].map(({ run }) => run).toSorted((a, b) => a.order - b.order) }
}

/** Lines of one start with the same order and workload are measures of one run. */
function joinMeasure(same: { readonly row: RunLine; readonly run: Run }, row: RunLine, measures: Run['measures'], workload: Workload, problems: Problems): Run {
  const { run } = same
  const at = { line: row.line, column: 'order' }
  if (run.workloadId !== workload.id || same.row.tune !== row.tune) problems.add(at, `order ${run.order} of start "${row.start}" is taken by line ${same.row.line}.`, 'Give each run of a start its own order.')
  else if (run.outcome !== row.outcome) problems.add(at, `the run with order ${run.order} has outcome "${row.outcome}" here and "${run.outcome}" on line ${same.row.line}.`, 'A run has one outcome.')
  else if (measures.length === 0 || measures.some(({ name }) => run.measures.some((had) => had.name === name))) {
    problems.add(at, `the run with order ${run.order} of start "${row.start}" comes again (line ${same.row.line}).`, 'Take the line out, or give the run another order.')
  }
  return { ...run, measures: [...run.measures, ...measures] }
}

function leastCertain(rows: readonly RunLine[]): Known {
  return rows.map((row) => row.known).toSorted((a, b) => KNOWN_ORDER.indexOf(b) - KNOWN_ORDER.indexOf(a))[0] ?? TABLE_DEFAULTS.known
}

const KNOWN_ORDER: readonly Known[] = ['read back', 'measured', 'seen by a person', 'unverified']

/** The workload by name, made or given further measures where needed. */
function workloadOf(row: RunLine, draft: Draft, problems: Problems): Workload {
  const known = draft.workloads(row.workload)
  // Of several versions, the one without a version is what a file that names none can mean; else the latest.
  const found = known.find((workload) => workload.version === undefined) ?? known.at(-1)
  if (found === undefined) {
    const measures: Measure[] = []
    for (const value of row.values) {
      const measure = newMeasure(value, value.measure ?? value.otherwise)
      if (measures.every(({ name }) => name !== measure.name)) measures.push(measure)
    }
    const made: Workload = { kind: 'workload', id: draft.newId(), name: row.workload, ...(row.group === undefined ? {} : { group: row.group }), measures }
    draft.put(made)
    return made
  }
  let workload = found
  if (row.group !== undefined && row.group !== workload.group) {
    if (workload.group !== undefined) problems.add({ line: row.line, column: 'group' }, `workload "${workload.name}" is in group "${workload.group}"; this line says "${row.group}".`, 'Make them agree.')
    workload = { ...workload, group: row.group }
    draft.put(workload)
  }
  for (const value of row.values) {
    const name = value.value === undefined ? undefined : nameOf(value, workload)
    if (name === undefined || workload.measures.some((measure) => measure.name === name)) continue
    workload = { ...workload, measures: [...workload.measures, newMeasure(value, name)] }
    draft.put(workload)
  }
  return workload
}

/** What a figure is of: what the file says, else the workload's measure in such a unit, else what the unit of its column measures. */
function nameOf({ measure, otherwise, unit }: RowValue, workload: Workload): string | undefined {
  if (measure !== undefined) return measure
  const fits = unit === undefined ? workload.measures[0] : workload.measures.find((candidate) => convert(1, unit, candidate.unit) !== undefined)
  if (fits !== undefined) return fits.name
  return otherwise === TABLE_DEFAULTS.measure ? undefined : otherwise
}

function newMeasure({ unit = TABLE_DEFAULTS.unit, direction }: RowValue, name: string): Measure {
  return { name, unit, direction: direction ?? (LESS_IS_BETTER.has(findUnit(unit)?.quantity ?? '') ? 'lower is better' : 'higher is better') }
}

/** What a bench wants little of, where nobody says otherwise. */
const LESS_IS_BETTER: ReadonlySet<string> = new Set(['time', 'power', 'energy', 'temperature', 'sound level'])

function measuresOf(row: RunLine, workload: Workload, problems: Problems): Run['measures'] {
  const measures: Run['measures'] = []
  for (const value of row.values) {
    const measure = measureOf(row, value, workload, problems)
    if (measure === undefined) continue
    if (measures.some(({ name }) => name === measure.name)) problems.add({ line: row.line, column: value.column }, `the line has two values of "${measure.name}" of "${workload.name}".`, 'Say which measure each column holds.')
    measures.push(measure)
  }
  return measures
}

function measureOf(row: RunLine, given: RowValue, workload: Workload, problems: Problems): Run['measures'][number] | undefined {
  const { value, unit, direction } = given
  if (value === undefined) return undefined
  const name = nameOf(given, workload) ?? workload.measures.at(0)?.name
  const measure = workload.measures.find((candidate) => candidate.name === name)
  if (measure === undefined) return undefined
  if (direction !== undefined && direction !== measure.direction) {
    problems.add({ line: row.line, column: 'direction' }, `for measure "${measure.name}" of "${workload.name}" ${measure.direction}; this line says ${direction}.`, 'Make them agree, or name another measure.')
  }
  const converted = unit === undefined ? value : convert(value, unit, measure.unit)
  if (converted === undefined) {
    problems.add({ line: row.line, column: 'unit' }, `measure "${measure.name}" of "${workload.name}" is in ${measure.unit}; ${unit ?? ''} does not convert to it.`, 'Give the value in that unit, or name another measure.')
    return undefined
  }
  if (converted <= 0 && comparisonOf(measure.unit) === 'ratio') {
    problems.add({ line: row.line, column: given.column }, `a value in ${unit ?? measure.unit} must be above zero; got ${value}.`, 'Leave the cell empty for a run that failed, and give its outcome.')
    return undefined
  }
  return { name: measure.name, value: converted }
}
