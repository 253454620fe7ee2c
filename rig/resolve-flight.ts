// Closes a step that an earlier journal left in flight, with the evidence: another boot id means that the machine restarted, the same one that the
// program died, or, where the run was found at work, that its runner alone was killed.
import type { JournalBodyOf } from '@guardband/model'
import { sameBoot } from './boot-id.ts'
import type { InFlight } from './journal-folder.ts'
import type { LeftGroup } from './process-group.ts'

export interface ResolveSources {
  readonly at: string
  readonly bootId: string
  /** What was found, and ended, of what the run had started. */
  readonly left: LeftGroup
}

/** A run that was found at work says nothing about its tune: it counts like one that a person stopped, and is carried out afresh (rule 11). */
export function resolveFlight(flight: InFlight, { at, bootId, left }: ResolveSources): JournalBodyOf<'resolved'> {
  const { begin, journal, heartbeat, damaged } = flight
  const same = sameBoot(flight.bootId, bootId)
  const runnerKilled = same && left === 'at work'
  const boots = same ? `The boot id is the same (${bootId})` : `The boot id is another one (${flight.bootId || 'unknown'} then, ${bootId} now)`
  const happened = runnerKilled ? 'the runner was killed; its run was still alive and was ended' : same ? 'the program that ran it died' : 'the machine restarted'
  const sign = heartbeat === null ? 'no heartbeat after that' : `last heartbeat ${heartbeat.at}, ${heartbeat.elapsed.toFixed(1)} s into the run`
  const harm = damaged ? ' That journal has damaged lines, so its end may have been among them.' : ''
  const rest = left === 'leader ended' ? ' What it had started was still running and was ended.' : ''
  return {
    type: 'resolved',
    at,
    journal,
    step: begin.step,
    runId: begin.runId,
    outcome: runnerKilled ? 'stopped by a person' : same ? 'program died' : 'machine reset',
    evidence: `${boots}: ${happened}. Begun ${begin.at}; ${sign}.${harm}${rest}`,
  }
}
