// What rigs ask and what was answered here. An answer is no record: it is kept until the hub has it, and sent late only while the rig still asks; what can't be sent any more is said.
import type { Ask, LiveReply, LiveRig } from '@guardband/model/api/live'
import { askParts } from '../pieces/live-words.ts'

export interface GivenHere {
  readonly device: string
  readonly rig: string
  readonly ask: string
  readonly question: string
  readonly answer: string
  /** It was sent and no reply came: nobody knows whether it arrived. */
  readonly tried: boolean
}

/** What became of an answer that the hub did not take. */
export interface Told {
  readonly ask: string
  readonly sentence: string
}

export interface LiveView {
  readonly rigs: readonly LiveRig[]
  /** Milliseconds to add to this phone's clock to get the hub's. */
  readonly ahead: number
  readonly unsent: readonly GivenHere[]
  /** The last try had no reply. */
  readonly silent: boolean
  readonly told: readonly Told[]
}

export interface LiveDesk {
  readonly view: () => LiveView
  readonly listen: (listener: () => void) => () => void
  readonly answer: (rig: LiveRig, ask: Ask, answer: string) => void
  /** Not to be sent after all. */
  readonly withdraw: (ask: string) => void
  readonly close: (ask: string) => void
  readonly look: () => void
}

export type LiveRead = { readonly result: 'read'; readonly reply: LiveReply } | { readonly result: 'silent' }
export type LiveSent = LiveRead | { readonly result: 'refused'; readonly code: string; readonly sentence: string }

export interface LiveNeeds {
  readonly read: () => Promise<LiveRead>
  readonly send: (given: GivenHere) => Promise<LiveSent>
  readonly store: { readonly load: () => readonly GivenHere[]; readonly save: (unsent: readonly GivenHere[]) => void }
  readonly now: () => number
  readonly later: (milliseconds: number, work: () => void) => () => void
}

export function createLiveDesk({ read, send, store, now, later }: LiveNeeds): LiveDesk {
  const listeners = new Set<() => void>()
  let view: LiveView = { rigs: [], ahead: 0, unsent: store.load().map((given) => ({ ...given, tried: true })), silent: false, told: [] }
  let looking = false
  let again = false
  let cancelRetry: (() => void) | undefined

  const become = (change: Partial<LiveView>): void => {
    if (change.unsent !== undefined) store.save(change.unsent)
    view = { ...view, ...change }
    for (const listener of listeners) listener()
  }
  const take = (reply: LiveReply): void => become({ rigs: reply.rigs, ahead: reply.now - now(), silent: false })
  const drop = (ask: string): readonly GivenHere[] => view.unsent.filter((given) => given.ask !== ask)
  const giveUp = (given: GivenHere, why: string): void => {
    const sentence = `${why} Your answer, ${given.answer === '' ? 'done' : given.answer}, ${given.tried ? 'may have reached the hub or not' : 'was not sent'}.`
    become({ unsent: drop(given.ask), told: [...view.told, { ask: given.ask, sentence }].slice(-MOST_TOLD) })
  }

  async function sendOne(given: GivenHere): Promise<void> {
    const rig = view.rigs.find(({ device }) => device.id === given.device)
    // A hub that was started anew hears of its rigs within seconds.
    if (rig === undefined) return
    if (rig.state.ask?.id !== given.ask) return giveUp(given, `${given.rig} no longer asks "${given.question}": it was answered elsewhere, or the rig went on.`)
    if (rig.answered === given.answer) return become({ unsent: drop(given.ask) })
    become({ unsent: view.unsent.map((one) => (one.ask === given.ask ? { ...one, tried: true } : one)) })
    const reply = await send(given)
    // Withdrawn while it was on its way: then the hub's next word counts.
    if (!view.unsent.some(({ ask }) => ask === given.ask)) return
    if (reply.result === 'read') {
      become({ unsent: drop(given.ask) })
      take(reply.reply)
    } else if (reply.result === 'silent') become({ silent: true })
    else if (reply.code !== 'no-rig') giveUp({ ...given, tried: false }, `The hub did not take it: ${reply.sentence}`)
  }

  async function look(): Promise<void> {
    if (looking) {
      again = true
      return
    }
    looking = true
    cancelRetry?.()
    cancelRetry = undefined
    do {
      again = false
      const reply = await read()
      if (reply.result === 'silent') become({ silent: true })
      else {
        take(reply.reply)
        for (const given of view.unsent) await sendOne(given)
      }
    } while (again)
    looking = false
    if (view.unsent.length > 0) cancelRetry = later(RETRY_MS, () => void look())
  }

  return {
    view: () => view,
    listen: (listener) => {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    answer: (rig, ask, answer) => {
      become({ unsent: [...drop(ask.id), { device: rig.device.id, rig: rig.state.rig, ask: ask.id, question: askParts(ask.text).question, answer, tried: false }] })
      void look()
    },
    withdraw: (ask) => become({ unsent: drop(ask) }),
    close: (ask) => become({ told: view.told.filter((told) => told.ask !== ask) }),
    look: () => void look(),
  }
}

const MOST_TOLD = 5
const RETRY_MS = 3000
