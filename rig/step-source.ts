// StepSource: the one port from which a rig takes its steps. What a rig knows of a step and of what is behind it.
import type { Outcome, StartHow } from '@guardband/model'

/** Puts a tune in force and opens a start. */
export interface StartStep {
  readonly kind: 'change'
  readonly id: string
  /** The plan's own step that this comes from: itself, or the ladder that unfolded to it. */
  readonly planStep: string
  readonly tune: string
  readonly start: StartHow
}

/** One execution of a workload. It knows its start, so that it can be taken up after a restart. */
export interface RunStep {
  readonly kind: 'run'
  readonly id: string
  readonly workload: string
  readonly change: StartStep
  /** The live change that its tune comes from; null where that is the start's own. */
  readonly adjust: AdjustStep | null
}

/** Puts another tune in force within the open start, with no power-on and no new start. */
export interface AdjustStep {
  readonly kind: 'adjust'
  readonly id: string
  readonly tune: string
  readonly change: StartStep
}

export interface PromptStep {
  readonly kind: 'prompt'
  readonly id: string
  readonly text: string
}

export type RigStep = StartStep | AdjustStep | RunStep | PromptStep

export interface FinishedStep {
  /** `end`: it ran; `resolved`: it was in flight when the program or the machine went down; `done`: no run, or one that was not run. */
  readonly by: 'end' | 'resolved' | 'done'
  /** Of what was not run only that its start did not come about is known here: `no start`. */
  readonly outcome: Outcome | null
  readonly seconds: number | null
  readonly workload: string | null
}

/** What is behind the rig: every finished step by its id. It only grows. */
export interface History {
  readonly finished: ReadonlyMap<string, FinishedStep>
}

export interface StepSource {
  /** The step to carry out now, null when nothing is left. */
  readonly next: (history: History) => RigStep | null
  /** What is yet to come if nothing fails; a ladder may stop before. */
  readonly remaining: (history: History) => readonly RigStep[]
}
