// The fixed plan as a source of steps: in the plan's order, each until it is finished; ladders unfold on the way.
import { planSteps, type Plan } from '@guardband/model'
import { createLadderSource } from './ladder-source.ts'
import type { AdjustStep, History, RigStep, StartStep, StepSource } from './step-source.ts'

/** Throws the plan's own sentences where its steps don't fit together. */
export function createPlanSource(plan: Plan): StepSource {
  const parts = partsOf(plan)
  /** History only grows, so a part with nothing left never has anything again. */
  let first = 0
  return {
    next: (history) => {
      for (; first < parts.length; first++) {
        const step = parts[first].next(history)
        if (step !== null) return step
      }
      return null
    },
    remaining: (history) => parts.slice(first).flatMap((part) => part.remaining(history)),
  }
}

function partsOf(plan: Plan): readonly StepSource[] {
  let change: StartStep | null = null
  let adjust: AdjustStep | null = null
  return planSteps(plan).map((step) => {
    switch (step.kind) {
      case 'change':
        change = { ...step, planStep: step.id }
        adjust = null
        return single(change)
      case 'adjust':
        if (change === null) throw noChange(step.id)
        adjust = { ...step, change }
        return single(adjust)
      case 'run':
        if (change === null) throw noChange(step.id)
        return single({ ...step, change, adjust })
      case 'prompt':
        return single(step)
      case 'ladder':
        change = null
        return createLadderSource(step)
    }
  })
}

function noChange(id: string): RangeError {
  return new RangeError(`step ${id} must come after a change; got none before it`)
}

function single(step: RigStep): StepSource {
  const left = (history: History) => !history.finished.has(step.id)
  return { next: (history) => (left(history) ? step : null), remaining: (history) => (left(history) ? [step] : []) }
}
