// The read-back gate: asked is not applied, so each observable of a tune is read and held against what is expected.
import type { Known, Observable, PlanTune } from '@guardband/model'
import { confirmInForce } from './confirm-in-force.ts'
import { observe, type Observed } from './observe.ts'
import type { RigContext } from './rig-context.ts'
import { trainingFault, type TrainingReading } from './training.ts'

export interface GateResult {
  /** The tune asked for, null when something read back differs from it and no person vouches for it, or when a person says that it is not in force. */
  readonly tune: string | null
  readonly known: Known
  readonly observed: readonly Observed[]
  /** What differed and what a person said of it; null when there is nothing to add. */
  readonly message: string | null
  /** What workloads report of themselves, so known only once they ran; none where left out. */
  readonly pending?: readonly Observable[]
}

/**
 * Where nothing can be read, or what was read differs, a person at the terminal decides; without one a difference means fallback. A memory training that
 * failed or fell back counts as a difference, whatever the observables read. What a workload reports of itself is left for its first run.
 */
export async function readBack(context: RigContext, tune: PlanTune, training: TrainingReading | null = null): Promise<GateResult> {
  const pending = tune.readBack.filter(({ selfReported }) => selfReported !== undefined)
  const readable = tune.readBack.filter(({ selfReported }) => selfReported === undefined)
  const fallback = trainingFault(training)
  if (tune.readBack.length === 0 && fallback === null) return withoutObservables(context, tune)
  const observed: Observed[] = []
  const differing = fallback === null ? [] : [fallback]
  for (const observable of readable) {
    const result = await observe(context, observable, tune.name)
    observed.push(result.observed)
    if (!result.observed.matches) differing.push(result.text)
  }
  const typed = readable.some(({ reading }) => 'typed' in reading)
  if (differing.length === 0) return { tune: tune.name, known: readable.length === 0 ? 'unverified' : typed ? 'seen by a person' : 'read back', observed, message: null, pending }
  const message = differing.join('; ')
  const word = await confirmInForce(context, tune, differing)
  if (word === 'confirmed') return { tune: tune.name, known: 'seen by a person', observed, message: `${message}; a person says that the settings asked for are in force all the same`, pending }
  const known = typed ? 'seen by a person' : 'read back'
  return { tune: null, known, observed, message: word === 'denied' ? `${message}; a person confirms that the settings asked for are not in force` : message }
}

async function withoutObservables(context: RigContext, tune: PlanTune): Promise<GateResult> {
  switch (await confirmInForce(context, tune, [])) {
    case 'confirmed':
      return { tune: tune.name, known: 'seen by a person', observed: [], message: null }
    case 'denied':
      return { tune: null, known: 'seen by a person', observed: [], message: 'a person says that the settings asked for are not in force' }
    case 'nobody there':
      return { tune: tune.name, known: 'unverified', observed: [], message: null }
  }
}
