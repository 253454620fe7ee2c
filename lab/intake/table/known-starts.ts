// Finds the starts of a file that the workspace holds already, by what they say and not by the file's bytes, so that no run counts twice.
import { canonicalJson, type InForce, type Run, type Start } from '@guardband/model'
import type { LabCore } from '../../lab-core.ts'
import { LABEL_MARK } from '../../store/start-name.ts'

export interface DrawnStart {
  readonly label: string
  readonly start: Start
  readonly inForce: readonly InForce[]
  readonly runs: readonly Run[]
}

/** The file and the change that a start came in with. */
export interface CameFrom {
  readonly file: string
  readonly change: number
}

export type Standing =
  | { readonly is: 'new' }
  | { readonly is: 'here'; readonly from: CameFrom }
  /** All that is here stands in the file unchanged, and runs follow: these, as runs of the start that is here. */
  | { readonly is: 'grown'; readonly from: CameFrom; readonly start: Start; readonly runs: readonly Run[] }
  /** The same start beyond doubt, but told in another way. */
  | { readonly is: 'other'; readonly from: CameFrom; readonly what: string }

export interface KnownStarts {
  readonly standing: (drawn: DrawnStart) => Standing
}

export function createKnownStarts(core: LabCore): KnownStarts {
  const { store, db } = core
  let byPlace: ReadonlyMap<string, readonly Start[]> | undefined
  const ofStart = db.prepare<[string, string], { body: string }>('SELECT body FROM record WHERE kind = ? AND start_id = ? ORDER BY id')
  const made = db.prepare<[string], { seq: number | null }>('SELECT max(seq) AS seq FROM change_item WHERE id = ? AND before IS NULL')
  const told = (start: Start): Told => ({
    start,
    // The table's kind column is written from the record itself.
    inForce: ofStart.all('in force', start.id).map(({ body }) => JSON.parse(body) as InForce),
    runs: ofStart.all('run', start.id).map(({ body }) => JSON.parse(body) as Run).toSorted((a, b) => a.order - b.order),
  })
  const cameFrom = ({ id, source = '' }: Start): CameFrom => ({ file: source.slice(0, source.lastIndexOf(LABEL_MARK)), change: made.get(id)?.seq ?? 0 })

  return {
    standing: (drawn) => {
      byPlace ??= Map.groupBy(store.list('start').filter(({ source }) => source?.includes(LABEL_MARK)), placeOf)
      const found = (byPlace.get(placeOf(drawn.start)) ?? []).map((start) => ({ start, match: compare(told(start), drawn) }))
      for (const wanted of ['here', 'grown', 'other'] as const) {
        const best = found.find(({ match }) => match.is === wanted)
        if (best === undefined || best.match.is === 'new') continue
        return { ...best.match, from: cameFrom(best.start) }
      }
      return { is: 'new' }
    },
  }
}

type Told = Omit<DrawnStart, 'label'>
type Match = { readonly is: 'new' } | { readonly is: 'here' } | { readonly is: 'grown'; readonly start: Start; readonly runs: readonly Run[] } | { readonly is: 'other'; readonly what: string }

/** Rig, assembly and label: within them a start is looked for. */
function placeOf({ rigId, assemblyId, source = '' }: Start): string {
  return JSON.stringify([rigId, assemblyId, source.slice(source.lastIndexOf(LABEL_MARK) + LABEL_MARK.length)])
}

function compare(here: Told, drawn: Told): Match {
  const [hereFigures, drawnFigures] = [figuresOf(here), figuresOf(drawn)]
  const [hereLines, drawnLines] = [linesOf(here), linesOf(drawn)]
  const shared = countShared(hereFigures, drawnFigures)
  const sameMoment = here.start.at !== undefined && here.start.at === drawn.start.at
  // Two times tell two starts apart, unless a line with a time of its own stands in both.
  const sharesTimedLine = here.runs.some(({ at }) => at !== undefined) && countShared(hereLines, drawnLines) > 0
  if (here.start.at !== undefined && drawn.start.at !== undefined && !sameMoment && !sharesTimedLine) return { is: 'new' }
  const fewer = Math.min(here.runs.length, drawn.runs.length)
  const inside = shared === fewer && (fewer > 0 || here.runs.length === drawn.runs.length)
  if (!inside) return sameMoment || shared * 2 > here.runs.length ? { is: 'other', what: 'with other lines' } : { is: 'new' }

  const sameLength = here.runs.length === drawn.runs.length
  const what = differenceOf(here, drawn, sameLength ? 'all of it' : 'a part')
  if (what !== undefined) return { is: 'other', what }
  if (countShared(hereLines, drawnLines) < fewer) return { is: 'other', what: 'with other times, phases, places or seconds' }
  if (drawn.runs.length <= here.runs.length) return { is: 'here' }
  if (!hereLines.every((line, index) => line === drawnLines[index])) return { is: 'other', what: 'and the new lines do not all stand below those that are here' }
  return grown(here, drawn)
}

function grown(here: Told, drawn: Told): Match {
  const byTune = new Map(here.inForce.map((held) => [held.tuneId, held.id]))
  const tunes = new Map(drawn.inForce.map((held) => [held.id, held.tuneId]))
  const last = here.runs.at(-1)?.order ?? -1
  const runs: Run[] = []
  for (const run of drawn.runs.slice(here.runs.length)) {
    const inForceId = byTune.get(tunes.get(run.inForceId))
    if (inForceId === undefined) return { is: 'other', what: 'without the other tune' }
    if (run.order <= last) return { is: 'other', what: 'and the new lines do not all stand below those that are here' }
    runs.push({ ...run, startId: here.start.id, inForceId })
  }
  // The mean over the start's lines moves with each further line.
  const { ambient } = drawn.start.conditions
  return { is: 'grown', start: { ...here.start, conditions: { ...here.start.conditions, ...(ambient === undefined ? {} : { ambient }) } }, runs }
}

/** What a run measured, in order. */
function figuresOf({ inForce, runs }: Told): readonly string[] {
  const tunes = new Map(inForce.map((held) => [held.id, held.tuneId]))
  return runs.map(({ inForceId, workloadId, outcome, measures }) => canonicalJson([tunes.get(inForceId) ?? null, workloadId, outcome, measures]))
}

/** All that a line says of its run, in order. */
function linesOf(told: Told): readonly string[] {
  const figures = figuresOf(told)
  return told.runs.map(({ at, phase, place, exposure }, index) => canonicalJson([figures[index], at ?? null, phase ?? null, place ?? null, exposure?.seconds ?? null]))
}

function countShared(one: readonly string[], other: readonly string[]): number {
  const left = new Map<string, number>()
  for (const text of one) left.set(text, (left.get(text) ?? 0) + 1)
  let shared = 0
  for (const text of other) {
    const count = left.get(text) ?? 0
    if (count === 0) continue
    left.set(text, count - 1)
    shared += 1
  }
  return shared
}

/** In the words of the columns. Earliest time and mean temperature only say something when all lines are compared. */
function differenceOf(here: Told, drawn: Told, compared: 'all of it' | 'a part'): string | undefined {
  const [one, other] = [here.start, drawn.start]
  if (one.tuneId !== other.tuneId) return 'with another tune'
  if (one.how !== other.how) return `as a ${one.how} start`
  if (one.result !== other.result) return `with the result "${one.result}"`
  if (one.conditions.firmware !== other.conditions.firmware) return 'with another firmware, or without one'
  if (one.conditions.systemImage !== other.conditions.systemImage) return 'with another system, or without one'
  if (compared === 'all of it' && one.at !== other.at) return 'with another time, or without one'
  if (compared === 'all of it' && !isNear(one.conditions.ambient, other.conditions.ambient)) return 'with another ambient, or without one'
  const certainty = new Map(here.inForce.map(({ tuneId, known }) => [tuneId, known]))
  if (drawn.inForce.some(({ tuneId, known }) => certainty.has(tuneId) && certainty.get(tuneId) !== known)) return 'with another "known"'
  return undefined
}

/** A mean in another order of its lines differs in the last digits. */
function isNear(one: number | undefined, other: number | undefined): boolean {
  return one === other || (one !== undefined && other !== undefined && Math.abs(one - other) < ROUNDING)
}

/** degC; far below what any thermometer tells apart. */
const ROUNDING = 1e-6
