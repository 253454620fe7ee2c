// Puts the tune in force that a step asks for: by a start of its own, or as a live change within one.
import { adjustInto, openStartInto } from './open-start.ts'
import type { RigContext, SessionState } from './rig-context.ts'
import { runsOf } from './runs-of.ts'
import type { AdjustStep, StartStep, StepSource } from './step-source.ts'

/**
 * A live change whose start is no longer open (an interruption lay between) gets a new one: where starts are live, with its own tune at once; where they need a
 * power-on, with the start's tune first, since what is changed live is lost with the power.
 */
export async function putInForceInto(state: SessionState, context: RigContext, source: StepSource, asked: StartStep | AdjustStep): Promise<void> {
  const runs = runsOf(source, state, asked)
  if (asked.kind === 'change') return openStartInto(state, context, { change: asked, tune: asked.tune, runs })
  const { change } = asked
  if (!isOpen(state, change)) {
    if (!goesThroughItsStart(asked)) return openStartInto(state, context, { change, tune: asked.tune, adjust: asked.id, runs })
    await openStartInto(state, context, { change, tune: change.tune, runs: runsOf(source, state, change) })
  }
  return adjustInto(state, context, asked, runs)
}

/** Every tune that would be put in force on the way to this one. */
export function tunesOnTheWay(state: SessionState, asked: StartStep | AdjustStep): readonly string[] {
  return asked.kind === 'adjust' && !isOpen(state, asked.change) && goesThroughItsStart(asked) ? [asked.tune, asked.change.tune] : [asked.tune]
}

function isOpen({ start }: SessionState, { id }: StartStep): boolean {
  return start?.change.id === id
}

function goesThroughItsStart({ change }: AdjustStep): boolean {
  return change.start !== 'live'
}
