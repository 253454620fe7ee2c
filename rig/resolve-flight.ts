// Closes a step that an earlier journal left in flight, with the evidence: another boot id means that the machine restarted, or that it hung where somebody saw
// it stand still; the same one that the program died, or, where the run was found at work, that its runner alone was killed.
import { fixed, type JournalBodyOf } from '@guardband/model'
import { sameBoot } from './boot-id.ts'
import type { InFlight } from './journal-folder.ts'
import type { Seen } from './link.ts'
import type { LeftGroup } from './process-group.ts'

export interface ResolveSources {
  readonly at: string
  readonly bootId: string
  /** What was found, and ended, of what the run had started. */
  readonly left: LeftGroup
  /** What a companion saw of the machine since that journal. */
  readonly seen: readonly Seen[]
  /** When this boot began, in milliseconds since 1970; null where nothing tells. */
  readonly upSince: number | null
}

/** A run that was found at work says nothing about its tune: it counts like one that a person stopped, and is carried out afresh (rule 11). */
export function resolveFlight(flight: InFlight, sources: ResolveSources): JournalBodyOf<'resolved'> {
  const { begin } = flight
  const { at, bootId, left } = sources
  const same = sameBoot(flight.bootId, bootId)
  if (flight.wentOn) return resolvedAs(flight, at, { outcome: 'stopped by a person', evidence: `Its end is lost among damaged lines of that journal; what stands after them shows that the rig went on. Begun ${begin.at}. Nothing tells how it ended, so it counts neither for nor against its tune.` })
  const runnerKilled = same && left === 'at work'
  const stoodStill = !same && sources.seen.some(({ what }) => what === 'silence' || what === 'action')
  const boots = same ? `The boot id is the same (${bootId})` : `The boot id is another one (${flight.bootId || 'unknown'} then, ${bootId} now)`
  const happened = runnerKilled ? 'the runner was killed; its run was still alive and was ended' : same ? 'the program that ran it died' : stoodStill ? 'the machine stood still until it was restarted' : 'the machine restarted'
  return resolvedAs(flight, at, { outcome: runnerKilled ? 'stopped by a person' : same ? 'program died' : stoodStill ? 'hung' : 'machine reset', evidence: `${boots}: ${happened}. ${evidenceOf(flight, sources)}` })
}

function resolvedAs({ journal, begin }: InFlight, at: string, { outcome, evidence }: Pick<JournalBodyOf<'resolved'>, 'outcome' | 'evidence'>): JournalBodyOf<'resolved'> {
  return { type: 'resolved', at, journal, step: begin.step, runId: begin.runId, outcome, evidence: evidence.slice(0, EVIDENCE_LIMIT) }
}

/** As the journal's messages allow. */
const EVIDENCE_LIMIT = 4000

function evidenceOf({ begin, heartbeat, damaged, bootId: before }: InFlight, { bootId, left, seen, upSince }: ResolveSources): string {
  const sign = heartbeat === null ? 'no heartbeat after that' : `last heartbeat ${heartbeat.at}, ${heartbeat.elapsed.toFixed(1)} s into the run`
  const gap = sameBoot(before, bootId) || upSince === null ? null : (upSince - Date.parse(heartbeat?.at ?? begin.at)) / 1000
  // A negative one means that the clock was set in between.
  const silent = gap === null || gap < 0 ? '' : ` The machine came up ${fixed(gap, 0)} s after that.`
  const harm = damaged ? ' That journal has damaged lines, so its end may have been among them.' : ''
  const rest = left === 'leader ended' ? ' What it had started was still running and was ended.' : ''
  const watched = seen.map((each) => ` A companion at ${each.at}: ${each.text}.`).join('')
  return `Begun ${begin.at}; ${sign}.${silent}${harm}${rest}${watched}`
}
