// The runs that hang on a tune asked for: those of its start, up to the next live change.
import type { AdjustStep, History, RunStep, StartStep, StepSource } from './step-source.ts'

/** Yet to come, in the plan's order. */
export function runsOf(source: StepSource, history: History, asked: StartStep | AdjustStep): readonly RunStep[] {
  return source.remaining(history).filter((step): step is RunStep => step.kind === 'run' && (asked.kind === 'change' ? step.change.id === asked.id && step.adjust === null : step.adjust?.id === asked.id))
}
