// How long the rest of a plan will take, from what was learned on this rig.
import type { FinishedStep, RigStep } from './step-source.ts'

/** Minutes for the remaining steps; null while nothing was learned. Prompts are not counted: people take their own time. */
export function minutesLeft(remaining: readonly RigStep[], finished: ReadonlyMap<string, FinishedStep>, startSeconds: readonly number[]): number | null {
  const ends = [...finished.values()].flatMap(({ workload, seconds }) => (seconds === null ? [] : [{ workload, seconds }]))
  if (ends.length === 0) return null
  const overall = mean(ends.map(({ seconds }) => seconds))
  const byWorkload = new Map([...Map.groupBy(ends, ({ workload }) => workload)].map(([workload, own]) => [workload, mean(own.map(({ seconds }) => seconds))]))
  const perStart = startSeconds.length === 0 ? 0 : mean(startSeconds)
  const seconds = remaining.reduce((sum, step) => {
    if (step.kind === 'prompt') return sum
    return sum + (step.kind === 'change' || step.kind === 'adjust' ? perStart : (byWorkload.get(step.workload) ?? overall))
  }, 0)
  return seconds / 60
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}
