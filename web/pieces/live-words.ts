// A rig at work in words, for page and phone: what it is at, how long, when it was heard last. Times are by the hub's clock, in milliseconds since 1970.
import type { Ask, LiveRig } from '@guardband/model/api/live'
import { counted, exact, fixed, minutesText } from '@guardband/model/figures'

/** What the rig's state is called beside its name. */
export const STATE_WORDS: Readonly<Record<LiveRig['state']['state'], string>> = {
  'at work': 'is at work',
  asks: 'asks you something',
  grace: 'waits before it goes on',
  'power-on': 'waits to be powered off and on',
  finished: 'has finished',
  stopped: 'has stopped',
}

/** Work is under way, or would go on if somebody did something. */
export function isUnderWay({ state: { state } }: LiveRig): boolean {
  return state !== 'finished' && state !== 'stopped'
}

/** Those that ask come first, the one that waits longest at the top; a further one comes in behind them, so that nothing moves under a hand. */
export function asksFirst(rigs: readonly LiveRig[]): readonly LiveRig[] {
  return rigs.toSorted((a, b) => compare(waitsSince(a), waitsSince(b)) || a.state.rig.localeCompare(b.state.rig) || a.device.id.localeCompare(b.device.id))
}

/** A moment of the rig's clock as the hub's clock has it. */
export function hubTime(rig: LiveRig, at: string): number {
  return Date.parse(at) + (rig.clock?.offset ?? 0) * 1000
}

/** "tile render, all cores, with quiet 65 W in force", "quiet 65 W is being put in force". */
export function stepText({ state: { step } }: LiveRig): string | null {
  if (step === null) return null
  switch (step.kind) {
    case 'run':
      return step.tune === null ? `${step.name}, with something in force that matches no tune` : `${step.name}, with ${step.tune} in force`
    case 'change':
      return `${step.name} is being put in force`
    case 'adjust':
      return `${step.name} is being put in force, within the start`
    case 'prompt':
      return `something for a person to do: ${step.name}`
  }
}

/** Why it stopped, or what it waits for, as a sentence of its own; null where its question says it. */
export function messageText({ state: { message, ask } }: LiveRig): string | null {
  return message === null || ask !== null ? null : capital(message)
}

export function capital(text: string): string {
  return `${text.slice(0, 1).toUpperCase()}${text.slice(1)}`
}

/** "14 steps done, 22 left, about 1 h 40 min". */
export function doneText({ state: { done, left, minutesLeft } }: LiveRig): string {
  if (left === 0) return `${counted(done, 'step')} done, none left`
  return `${counted(done, 'step')} done, ${fixed(left, 0)} left${minutesLeft === null ? '; how long is not known yet' : `, about ${minutesText(minutesLeft)}`}`
}

/** "0:41", "1:02:03". */
export function elapsedText(seconds: number): string {
  const whole = Math.max(0, Math.floor(seconds))
  const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60]
  const tail = String(rest).padStart(2, '0')
  return hours === 0 ? `${minutes}:${tail}` : `${hours}:${String(minutes).padStart(2, '0')}:${tail}`
}

/** "heard 3 s ago"; after half a minute of silence "not heard for 2 min", which is a caution where it should be at work. */
export function heardText(rig: LiveRig, now: number): { readonly text: string; readonly silent: boolean } {
  const seconds = Math.max(0, Math.floor((now - Date.parse(rig.heard)) / 1000))
  // One that has ended has no more to say.
  const silent = seconds >= SILENT_SECONDS && isUnderWay(rig)
  return { text: silent ? `not heard for ${spanText(seconds)}` : `heard ${spanText(seconds)}${NBSP}ago`, silent }
}

/** Said where the rig's clock is off by more than can be told apart and more than anybody would overlook. */
export function clockText({ clock }: LiveRig): string | null {
  if (clock === null || Math.abs(clock.offset) <= Math.max(clock.within, NOTICED_SECONDS)) return null
  const size = Math.abs(clock.offset)
  const span = size < 2 * 60 ? `${fixed(size, clock.within < 0.1 ? 1 : 0)} s` : spanText(size)
  return `Its clock is ${span} ${clock.offset > 0 ? 'behind' : 'ahead of'} the hub's, give or take ${exact(Number(clock.within.toPrecision(1)))} s. Times here are put right.`
}

/** A longer text closes with its question; what stands before leads up to it. */
export function askParts(text: string): { readonly lead: string; readonly question: string } {
  const lines = text.trimEnd().split('\n')
  return { lead: lines.slice(0, -1).join('\n'), question: lines[lines.length - 1] ?? '' }
}

/** The answer as it is sent: a decimal comma becomes a point. Null where it can't be one. */
export function answerOf({ kind, unit }: Pick<Ask, 'kind' | 'unit'>, typed: string): string | null {
  const text = typed.trim()
  if (kind !== 'value') return text
  if (text === '') return null
  if (unit === null) return text
  const plain = text.replace('\u2212', '-').replace(',', '.')
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? plain : null
}

/** What is wrong with it, and the mend. */
export function answerProblem({ unit }: Pick<Ask, 'unit'>, typed: string): string {
  if (typed.trim() === '') return `Type ${unit === null ? 'what you see' : `the figure, in ${unit}`}.`
  return `It must be a figure in ${unit ?? ''}, such as 41.5 or 41,5; got "${typed.trim()}".`
}

/** "Answered yes by phone of the north bench; the rig has not fetched it yet." */
export function answeredText(rig: LiveRig): string | null {
  if (rig.answered === null) return null
  const by = rig.answeredBy === null ? '' : ` by ${rig.answeredBy.who}${rig.answeredBy.via === 'phone' ? ', on the phone' : ''}`
  return `Answered${by}: ${rig.answered === '' ? 'done' : rig.answered}. The rig has not fetched it yet.`
}

/** Of what turned since the last look: what a person who does not look should hear. */
export function newsOf(before: readonly LiveRig[], now: readonly LiveRig[]): string {
  return now
    .flatMap((rig) => {
      const was = before.find(({ device }) => device.id === rig.device.id)
      const { ask, state, message } = rig.state
      if (ask !== null && was?.state.ask?.id !== ask.id) return [`${rig.state.rig} asks: ${askParts(ask.text).question}`]
      if ((state === 'finished' || state === 'stopped') && was !== undefined && was.state.state !== state) return [`${rig.state.rig} ${STATE_WORDS[state]}${message === null ? '' : `: ${message}`}.`]
      return []
    })
    .join(' ')
}

/** Three heartbeats of the runner and more. */
const SILENT_SECONDS = 30
const NOTICED_SECONDS = 1

function waitsSince(rig: LiveRig): number {
  return rig.state.ask === null ? Number.POSITIVE_INFINITY : hubTime(rig, rig.state.ask.since)
}

/** A difference would be none of two that are both endless. */
function compare(a: number, b: number): number {
  return a === b ? 0 : a < b ? -1 : 1
}

/** In one piece: a figure and its unit are not parted at the end of a line. */
function spanText(seconds: number): string {
  if (seconds < 60) return `${fixed(seconds, 0)}${NBSP}s`
  const minutes = Math.floor(seconds / 60)
  if (minutes < 60) return `${minutes}${NBSP}min`
  const hours = Math.floor(minutes / 60)
  return hours < 48 ? `${hours}${NBSP}h ${minutes % 60}${NBSP}min` : `${Math.floor(hours / 24)} days`
}

const NBSP = '\u00a0'
