// Which ends of a run or start are crashes, and which tune they happened at.
import type { JournalBody, Outcome } from '@guardband/model'

/** The machine went down, stood still, or was switched off by what protects it. */
export const CRASHES: ReadonlySet<Outcome> = new Set<Outcome>(['machine reset', 'hung', 'protection trip', 'device lost', 'no start', 'system fails to load'])

export interface Crash {
  readonly tune: string
  readonly outcome: Outcome
  /** The run, or the change that put the tune in force. */
  readonly step: string
}

/** In the order of the records handed in, which is that of the chain. */
export function crashesIn(bodies: readonly JournalBody[]): readonly Crash[] {
  const crashes: Crash[] = []
  const closed = new Set<string>()
  const tunes = tunesOfRuns(bodies)
  let step = ''
  for (const body of bodies) {
    if (body.type === 'open') step = body.step
    else if (body.type === 'start' && CRASHES.has(startOutcome(body.result))) crashes.push({ tune: body.tune, outcome: startOutcome(body.result), step })
    else if ((body.type === 'end' || body.type === 'resolved') && !closed.has(body.runId)) {
      closed.add(body.runId)
      const tune = tunes.get(body.runId)
      if (tune !== undefined && CRASHES.has(body.outcome)) crashes.push({ tune, outcome: body.outcome, step: body.step })
    }
  }
  return crashes
}

/** By run id, the tune that was in force in it; where that record is lost, the one that its start was asked for. */
export function tunesOfRuns(bodies: readonly JournalBody[]): ReadonlyMap<string, string> {
  const tunes = new Map<string, string>()
  const inForce = new Map<string, string | null>()
  let asked: string | null = null
  for (const body of bodies) {
    if (body.type === 'open') asked = null
    else if (body.type === 'start') asked = body.tune
    else if (body.type === 'in force') inForce.set(body.inForceId, body.tune)
    else if (body.type === 'begin') {
      const tune = inForce.get(body.inForceId) ?? asked
      if (tune !== null) tunes.set(body.runId, tune)
    }
  }
  return tunes
}

function startOutcome(result: Extract<JournalBody, { type: 'start' }>['result']): Outcome {
  return result === 'started' ? 'scored' : result
}
