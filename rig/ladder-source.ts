// The ladder policy: each tune in turn, its runs, and an end after so many failures. It decides on the rig itself, from what is finished.
import { COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES, type Outcome, type Step } from '@guardband/model'
import type { FinishedStep, History, RigStep, RunStep, StartStep, StepSource } from './step-source.ts'

export type LadderStep = Extract<Step, { kind: 'ladder' }>

/**
 * Rung n of ladder L has the change `L/tn` and the runs `L/tn/r1`, `L/tn/r2` and so on; a plan's own ids hold no slash. Each failed run counts
 * as one failure, a tune that could not be put in force as one. With `stopAfterFailures` failures the ladder ends at once, and so it does at the
 * first crash, whatever that number: nothing goes a step further from base after one.
 */
export function createLadderSource(ladder: LadderStep): StepSource {
  const rungs = ladder.tunes.map((tune, index) => rungOf(ladder, tune, index + 1))
  return {
    next: (history) => (isOver(rungs, ladder, history) ? null : (left(rungs, history)[0] ?? null)),
    remaining: (history) => (isOver(rungs, ladder, history) ? [] : left(rungs, history)),
  }
}

interface Rung {
  readonly change: StartStep
  readonly runs: readonly RunStep[]
}

function rungOf(ladder: LadderStep, tune: string, number: number): Rung {
  const change: StartStep = { kind: 'change', id: `${ladder.id}/t${number}`, planStep: ladder.id, tune, start: ladder.start }
  const runs = Array.from({ length: ladder.repeats }, (_, index): RunStep => ({ kind: 'run', id: `${change.id}/r${index + 1}`, workload: ladder.workload, change }))
  return { change, runs }
}

function left(rungs: readonly Rung[], history: History): readonly RigStep[] {
  return rungs.flatMap(({ change, runs }) => [change, ...runs]).filter((step) => !history.finished.has(step.id))
}

function isOver(rungs: readonly Rung[], ladder: LadderStep, history: History): boolean {
  let failures = 0
  for (const { runs } of rungs) {
    const ends = runs.map((run) => history.finished.get(run.id)).filter((end) => end !== undefined)
    if (ends.some(({ outcome }) => outcome !== null && CRASHES.has(outcome))) return true
    failures += ends.filter(hasFailed).length
    if (ends.some((end) => end.by === 'done')) failures += 1
  }
  return failures >= ladder.stopAfterFailures
}

function hasFailed(end: FinishedStep): boolean {
  return end.outcome !== null && !COMPARABLE_OUTCOMES.has(end.outcome) && !NEUTRAL_OUTCOMES.has(end.outcome)
}

/** The machine went down, stood still, or was switched off by what protects it. */
const CRASHES: ReadonlySet<Outcome> = new Set<Outcome>(['machine reset', 'hung', 'protection trip', 'device lost', 'no start', 'system fails to load'])
