// The ladder policy: each tune in turn, its runs, and an end after so many failures; then, where the plan says so, back down until a rung holds. It decides
// on the rig itself, from what is finished.
import { COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES, type Step } from '@guardband/model'
import { CRASHES } from './crashes.ts'
import type { FinishedStep, History, RigStep, RunStep, StartStep, StepSource } from './step-source.ts'

export type LadderStep = Extract<Step, { kind: 'ladder' }>

/**
 * Rung n of ladder L has the change `L/tn` and the runs `L/tn/r1`, `L/tn/r2` and so on; on the way down `L/dn` and `L/dn/r1`. A plan's own ids hold no
 * slash. Each failed run counts as one failure, a tune that could not be put in force as one. With `stopAfterFailures` failures the climb ends at once,
 * and so it does at the first crash, whatever that number: nothing goes a step further from base after one. On the way down a rung is left at its first
 * failure, and the ladder ends at the first rung that holds for all its runs.
 */
export function createLadderSource(ladder: LadderStep): StepSource {
  const { climb, descent } = waysOf(ladder)
  const remaining = (history: History): readonly RigStep[] => {
    if (!hasEnded(climb, ladder, history)) return left(climb, history)
    return ladder.stepDown === undefined ? [] : leftBelow(descent, climb, history)
  }
  return { next: (history) => remaining(history)[0] ?? null, remaining }
}

/** The tune that held on the way down; null where none did, or nothing is below the rung that failed; undefined where there was no way down. */
export function rungThatHolds(ladder: LadderStep, history: History): string | null | undefined {
  const { climb, descent } = waysOf(ladder)
  if (ladder.stepDown === undefined || !hasEnded(climb, ladder, history)) return undefined
  const rung = descent.findLast((each) => holds(each, history))
  return rung?.change.tune ?? null
}

function waysOf(ladder: LadderStep): { readonly climb: readonly Rung[]; readonly descent: readonly Rung[] } {
  return {
    climb: ladder.tunes.map((_, index) => rungOf(ladder, { way: 't', number: index + 1, repeats: ladder.repeats })),
    descent: ladder.tunes.map((_, index) => rungOf(ladder, { way: 'd', number: index + 1, repeats: ladder.stepDown?.repeats ?? 0 })),
  }
}

interface Rung {
  readonly number: number
  readonly change: StartStep
  readonly runs: readonly RunStep[]
}

function rungOf(ladder: LadderStep, { way, number, repeats }: { readonly way: 't' | 'd'; readonly number: number; readonly repeats: number }): Rung {
  const change: StartStep = { kind: 'change', id: `${ladder.id}/${way}${number}`, planStep: ladder.id, tune: ladder.tunes[number - 1], start: ladder.start }
  const runs = Array.from({ length: repeats }, (_, index): RunStep => ({ kind: 'run', id: `${change.id}/r${index + 1}`, workload: ladder.workload, change, adjust: null }))
  return { number, change, runs }
}

function left(rungs: readonly Rung[], history: History): readonly RigStep[] {
  return rungs.flatMap(({ change, runs }) => [change, ...runs]).filter((step) => !history.finished.has(step.id))
}

/** Of the rungs below the one that the climb came to: the lowest that was begun, or the next below it when that one failed. */
function leftBelow(descent: readonly Rung[], climb: readonly Rung[], history: History): readonly RigStep[] {
  const reached = climb.findLast((rung) => [rung.change, ...rung.runs].some(({ id }) => history.finished.has(id)))
  for (let number = (reached?.number ?? 1) - 1; number >= 1; number--) {
    const rung = descent[number - 1]
    if (holds(rung, history)) return []
    if (!endsOf(rung, history).some(hasFailed)) return left([rung], history)
  }
  return []
}

function holds(rung: Rung, history: History): boolean {
  const ends = endsOf(rung, history)
  return rung.runs.length > 0 && ends.length === rung.runs.length && !ends.some(hasFailed)
}

function hasEnded(rungs: readonly Rung[], ladder: LadderStep, history: History): boolean {
  let failures = 0
  for (const rung of rungs) {
    const ends = endsOf(rung, history)
    if (ends.some(({ outcome }) => outcome !== null && CRASHES.has(outcome))) return true
    failures += ends.filter(({ by }) => by !== 'done').filter(hasFailed).length
    if (ends.some(({ by }) => by === 'done')) failures += 1
  }
  return failures >= ladder.stopAfterFailures
}

function endsOf({ runs }: Rung, history: History): readonly FinishedStep[] {
  return runs.map(({ id }) => history.finished.get(id)).filter((end) => end !== undefined)
}

/** A run that was not run had no tune in force. */
function hasFailed(end: FinishedStep): boolean {
  if (end.outcome === null) return end.by === 'done'
  return !COMPARABLE_OUTCOMES.has(end.outcome) && !NEUTRAL_OUTCOMES.has(end.outcome)
}
