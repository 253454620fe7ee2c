// Closes a step that an earlier journal left in flight, with the evidence: another boot id means that the machine restarted, or that it hung where somebody saw
// it stand still; the same one that the program died, or, where the run was found at work or ran beside the machine under test, that its runner was gone.
import { fixed, type JournalBodyOf, type Outcome } from '@guardband/model'
import { sameBoot } from './boot-id.ts'
import type { InFlight } from './journal-folder.ts'
import type { Seen } from './link.ts'
import type { LeftGroup } from './process-group.ts'

export interface ResolveSources {
  readonly at: string
  readonly bootId: string
  /** The machine under test is another one than that of this program. */
  readonly beside: boolean
  /** What was found, and ended, of what the run had started. */
  readonly left: LeftGroup
  /** What a companion saw of the machine since that journal. */
  readonly seen: readonly Seen[]
  /** What a person at the terminal says of it, a sentence; `stoodStill` where it hung. */
  readonly told: { readonly stoodStill: boolean; readonly text: string } | null
  /** When this boot began, in milliseconds since 1970; null where nothing tells. */
  readonly upSince: number | null
  /** The same by the clock of those who saw something; null where the two clocks were never held against each other. */
  readonly upSinceThere: number | null
}

/** A run that was cut short by its runner's end says nothing about its tune: it counts like one that a person stopped, and is carried out afresh (rule 11). */
export function resolveFlight(flight: InFlight, sources: ResolveSources): JournalBodyOf<'resolved'> {
  const { begin } = flight
  const { at, bootId } = sources
  if (flight.wentOn) return resolvedAs(flight, at, { outcome: 'stopped by a person', evidence: `Its end is lost among damaged lines of that journal; what stands after them shows that the rig went on. Begun ${begin.at}. Nothing tells how it ended, so it counts neither for nor against its tune.` })
  const boots = sameBoot(flight.bootId, bootId) ? `The boot id is the same (${bootId})` : `The boot id is another one (${flight.bootId || 'unknown'} then, ${bootId} now)`
  const { outcome, happened } = endOf(flight, sources)
  return resolvedAs(flight, at, { outcome, evidence: `${boots}: ${happened}. ${evidenceOf(flight, sources)}` })
}

/** Silence after the machine was up again is that of its start, not of a hang. */
function stoodStill({ seen, told, upSinceThere: up }: ResolveSources): boolean {
  return told?.stoodStill ?? seen.some(({ what, at }) => (what === 'silence' || what === 'action') && (up === null || Date.parse(at) <= up))
}

function endOf(flight: InFlight, sources: ResolveSources): { readonly outcome: Outcome; readonly happened: string } {
  const { bootId, left, beside } = sources
  if (!sameBoot(flight.bootId, bootId)) {
    return stoodStill(sources) ? { outcome: 'hung', happened: 'the machine stood still until it was restarted' } : { outcome: 'machine reset', happened: 'the machine restarted' }
  }
  if (left === 'at work') return { outcome: 'stopped by a person', happened: 'the runner was killed; its run was still alive and was ended' }
  if (beside) return { outcome: 'stopped by a person', happened: 'the machine under test stayed up, and the runner beside it was gone' }
  return { outcome: 'program died', happened: 'the program that ran it died' }
}

function resolvedAs({ journal, begin }: InFlight, at: string, { outcome, evidence }: Pick<JournalBodyOf<'resolved'>, 'outcome' | 'evidence'>): JournalBodyOf<'resolved'> {
  return { type: 'resolved', at, journal, step: begin.step, runId: begin.runId, outcome, evidence: evidence.slice(0, EVIDENCE_LIMIT) }
}

/** As the journal's messages allow. */
const EVIDENCE_LIMIT = 4000

function evidenceOf({ begin, heartbeat, damaged, bootId: before }: InFlight, { bootId, left, seen, told, upSince }: ResolveSources): string {
  const sign = heartbeat === null ? 'no heartbeat after that' : `last heartbeat ${heartbeat.at}, ${heartbeat.elapsed.toFixed(1)} s into the run`
  const gap = sameBoot(before, bootId) || upSince === null ? null : (upSince - Date.parse(heartbeat?.at ?? begin.at)) / 1000
  // A negative one means that the clock was set in between.
  const silent = gap === null || gap < 0 ? '' : ` The machine came up ${fixed(gap, 0)} s after that.`
  const harm = damaged ? ' That journal has damaged lines, so its end may have been among them.' : ''
  const rest = left === 'leader ended' ? ' What it had started was still running and was ended.' : ''
  const person = told === null ? '' : ` ${told.text}`
  const watched = seen.map((each) => ` A companion at ${each.at}: ${each.text}.`).join('')
  return `Begun ${begin.at}; ${sign}.${silent}${harm}${rest}${person}${watched}`
}
