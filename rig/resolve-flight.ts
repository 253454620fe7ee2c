// Closes a step that an earlier journal left in flight, with the evidence: another boot id means that the machine restarted, the same one that the program died.
import type { JournalBodyOf } from '@guardband/model'
import { sameBoot } from './boot-id.ts'
import type { InFlight } from './journal-folder.ts'

export interface ResolveSources {
  readonly at: string
  readonly bootId: string
}

export function resolveFlight(flight: InFlight, { at, bootId }: ResolveSources): JournalBodyOf<'resolved'> {
  const { begin, journal, heartbeat, damaged } = flight
  const same = sameBoot(flight.bootId, bootId)
  const boots = same ? `The boot id is the same (${bootId})` : `The boot id is another one (${flight.bootId || 'unknown'} then, ${bootId} now)`
  const sign = heartbeat === null ? 'no heartbeat after that' : `last heartbeat ${heartbeat.at}, ${heartbeat.elapsed.toFixed(1)} s into the run`
  const harm = damaged ? ' That journal has damaged lines, so its end may have been among them.' : ''
  return {
    type: 'resolved',
    at,
    journal,
    step: begin.step,
    runId: begin.runId,
    outcome: same ? 'program died' : 'machine reset',
    evidence: `${boots}: ${same ? 'the program that ran it died' : 'the machine restarted'}. Begun ${begin.at}; ${sign}.${harm}`,
  }
}
