// The rigs that were heard of lately, and what people answered them. Kept in memory: none of it is a record of the workspace.
import type { AskAnswer, Device, LiveReply, LiveRig, LiveState } from '@guardband/model'
import { Refusal } from './refusal.ts'

export interface RigHeard {
  readonly state: LiveState
  readonly clock: LiveRig['clock']
}

export interface GivenAnswer extends AskAnswer {
  readonly who: string
  readonly via: 'phone' | 'page'
  readonly at: string
}

export interface LiveRigs {
  readonly list: () => LiveReply
  /** Keeps what a rig said, and returns what people want of it. */
  readonly heard: (device: Device, said: RigHeard) => { readonly answers: readonly GivenAnswer[]; readonly stop: boolean }
  readonly answer: (deviceId: string, given: AskAnswer, by: { readonly who: string; readonly via: 'phone' | 'page' }) => void
  readonly stop: (deviceId: string) => void
  /** One device was shut out. */
  readonly drop: (deviceId: string) => void
  /** Another workspace is served now, which let in others. */
  readonly forget: () => void
}

export interface LiveRigsNeeds {
  readonly now: () => number
  /** Something changed that pages show. */
  readonly tell: () => void
}

interface Known {
  readonly device: LiveRig['device']
  state: LiveState
  clock: LiveRig['clock']
  heardMs: number
  answer: GivenAnswer | null
  stop: boolean
}

export function createLiveRigs({ now, tell }: LiveRigsNeeds): LiveRigs {
  const rigs = new Map<string, Known>()
  const known = (deviceId: string): Known => {
    const rig = rigs.get(deviceId)
    if (rig === undefined) throw new Refusal(404, { code: 'no-rig', message: 'no such rig was heard of since this hub started.' })
    return rig
  }
  return {
    list: () => ({
      now: now(),
      rigs: [...rigs.values()].filter(({ heardMs }) => heardMs > now() - KEPT_MS).map(({ device, state, clock, heardMs, answer, stop }) => ({ device, state, clock, heard: new Date(heardMs).toISOString(), answered: answer?.answer ?? null, answeredBy: answer === null ? null : { who: answer.who, via: answer.via }, stopAsked: stop })),
    }),
    heard: (device, { state, clock }) => {
      const before = rigs.get(device.id)
      // An answer is handed out until the rig no longer has that question, so that a reply that was lost loses no answer.
      const answer = before?.answer?.ask === state.ask?.id ? (before?.answer ?? null) : null
      // It was meant for the plan that was at work then.
      const over = state.state === 'stopped' || state.state === 'finished' || before?.state.plan.hash !== state.plan.hash
      const stop = before?.stop === true && !over
      rigs.set(device.id, { device: { id: device.id, name: device.name }, state, clock, heardMs: now(), answer, stop })
      tell()
      return { answers: answer === null ? [] : [answer], stop }
    },
    answer: (deviceId, given, { who, via }) => {
      const rig = known(deviceId)
      const { ask } = rig.state
      if (ask === null || ask.id !== given.ask) throw new Refusal(409, { code: 'ask-over', message: 'the rig does not ask that any more.', mend: 'Look at what it is at now.' })
      const answer = ask.kind === 'done' ? '' : given.answer.trim()
      if (ask.kind === 'choice' && !ask.words.includes(answer)) throw new Refusal(422, { code: 'ask-word', message: `the answer must be one of ${ask.words.join(', ')}; got ${answer.slice(0, 40) || 'nothing'}.` })
      if (ask.kind === 'value' && answer === '') throw new Refusal(422, { code: 'ask-empty', message: 'the answer must not be empty.' })
      if (ask.kind === 'value' && ask.unit !== null && !(NUMBER.test(answer) && Number.isFinite(Number(answer)))) throw new Refusal(422, { code: 'ask-number', message: `the answer must be a number with a decimal point; got ${answer.slice(0, 40)}.` })
      // The first that fits stands, from wherever it comes; the same once more is a reply that was lost.
      if (rig.answer !== null && rig.answer.answer !== answer) throw new Refusal(409, { code: 'ask-answered', message: `${rig.answer.who} answered it already: ${rig.answer.answer || 'done'}.` })
      rig.answer ??= { ask: given.ask, answer, who, via, at: new Date(now()).toISOString() }
      tell()
    },
    stop: (deviceId) => {
      known(deviceId).stop = true
      tell()
    },
    drop: (deviceId) => {
      if (rigs.delete(deviceId)) tell()
    },
    forget: () => rigs.clear(),
  }
}

/** One that was silent for a day is not at work on anything that a person would look for here. */
const KEPT_MS = 24 * 3600 * 1000

const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/
