// Answers to rigs on the phone: never called given before the hub has them, sent late only while the rig still asks, and what can't be sent is said.
import { PHONE_LIVE_ROUTES, type LiveReply, type LiveRig } from '@guardband/model/api/live'
import { describe, expect, it } from 'vitest'
import { createLiveDesk, type GivenHere, type LiveDesk, type LiveSent } from '../../phone/live-desk.ts'
import { LIVE_PATHS } from '../../phone/live-route.ts'
import { ask, liveReply, liveRig } from '../fixtures/live.ts'

const ASK = ask('choice', { words: ['yes', 'no'], text: 'Is it so?' })
const OTHER = ask('choice', { id: '0190a000-0000-7000-8000-0000000a5c02', words: ['yes', 'no'], text: 'And now?' })
const ASKING = liveRig('north bench', { state: 'asks', ask: ASK })

interface Bench {
  readonly desk: LiveDesk
  readonly hub: { reply: LiveReply | null; sent: GivenHere[]; answer: (given: GivenHere) => LiveSent }
  readonly kept: () => readonly GivenHere[]
  readonly later: () => Promise<void>
  readonly look: () => Promise<void>
}

async function bench(first: LiveRig, kept: readonly GivenHere[] = []): Promise<Bench> {
  const hub: Bench['hub'] = { reply: liveReply(first), sent: [], answer: () => ({ result: 'read', reply: liveReply({ ...first, answered: 'yes', answeredBy: { who: 'phone', via: 'phone' } }) }) }
  let held = kept
  let next: (() => void) | undefined
  const desk = createLiveDesk({
    read: () => Promise.resolve(hub.reply === null ? { result: 'silent' } : { result: 'read', reply: hub.reply }),
    send: (given) => {
      hub.sent.push(given)
      return Promise.resolve(hub.answer(given))
    },
    store: { load: () => held, save: (unsent) => (held = unsent) },
    now: () => Date.parse('2026-11-06T07:00:00Z'),
    later: (_milliseconds, work) => {
      next = work
      return () => (next = undefined)
    },
  })
  const look = async (): Promise<void> => {
    desk.look()
    await settled()
  }
  await look()
  return { desk, hub, look, kept: () => held, later: async () => {
    next?.()
    await settled()
  } }
}

async function settled(): Promise<void> {
  for (let turn = 0; turn < 20; turn++) await Promise.resolve()
}

describe('answers to rigs on the phone', () => {
  it('holds the phone\'s paths against the contract', () => {
    expect(LIVE_PATHS).toEqual({ liveRigs: PHONE_LIVE_ROUTES.liveRigs.path, answerRig: PHONE_LIVE_ROUTES.answerRig.path })
  })

  it('keeps an answer until the hub has it, and tells its clock from the phone\'s', async () => {
    const { desk, hub, kept } = await bench(ASKING)
    expect(desk.view().ahead).toBe(3_603_000)
    desk.answer(ASKING, ASK, 'yes')
    expect(kept()).toMatchObject([{ ask: ASK.id, answer: 'yes' }])
    await settled()
    expect(hub.sent).toMatchObject([{ ask: ASK.id, answer: 'yes' }])
    expect(kept()).toEqual([])
    expect(desk.view().rigs[0]?.answered).toBe('yes')
  })

  it('sends it when the hub is back, while the rig still asks', async () => {
    const { desk, hub, kept, later } = await bench(ASKING)
    hub.reply = null
    desk.answer(ASKING, ASK, 'no')
    await settled()
    expect(desk.view()).toMatchObject({ silent: true, unsent: [{ answer: 'no', tried: false }] })
    expect(hub.sent).toEqual([])
    hub.reply = liveReply(ASKING)
    await later()
    expect(hub.sent).toMatchObject([{ answer: 'no' }])
    expect(kept()).toEqual([])
    expect(desk.view().told).toEqual([])
  })

  it('never sends it once the rig asks something else, and says so', async () => {
    const { desk, hub, later } = await bench(ASKING)
    hub.reply = null
    desk.answer(ASKING, ASK, 'no')
    await settled()
    hub.reply = liveReply(liveRig('north bench', { state: 'asks', ask: OTHER }))
    await later()
    expect(hub.sent).toEqual([])
    expect(desk.view().told).toEqual([{ ask: ASK.id, sentence: 'north bench no longer asks "Is it so?": it was answered elsewhere, or the rig went on. Your answer, no, was not sent.' }])
    desk.close(ASK.id)
    expect(desk.view().told).toEqual([])
  })

  it('does not claim that an answer was not sent whose reply was lost', async () => {
    const { desk, hub, later } = await bench(ASKING)
    hub.answer = () => ({ result: 'silent' })
    desk.answer(ASKING, ASK, 'yes')
    await settled()
    hub.reply = liveReply(liveRig('north bench'))
    await later()
    expect(desk.view().told).toMatchObject([{ sentence: expect.stringContaining('may have reached the hub or not') }])
  })

  it('takes the hub\'s own word that it has the answer for the lost reply', async () => {
    const { desk, hub, later } = await bench(ASKING)
    hub.answer = () => ({ result: 'silent' })
    desk.answer(ASKING, ASK, 'yes')
    await settled()
    hub.reply = liveReply({ ...ASKING, answered: 'yes', answeredBy: { who: 'phone', via: 'phone' } })
    await later()
    expect(hub.sent).toHaveLength(1)
    expect(desk.view()).toMatchObject({ unsent: [], told: [] })
  })

  it('says what the hub said to an answer that came second', async () => {
    const { desk, hub } = await bench(ASKING)
    hub.answer = () => ({ result: 'refused', code: 'ask-answered', sentence: 'Ada answered it already: yes.' })
    desk.answer(ASKING, ASK, 'no')
    await settled()
    expect(desk.view().told).toMatchObject([{ sentence: 'The hub did not take it: Ada answered it already: yes. Your answer, no, was not sent.' }])
    expect(desk.view().unsent).toEqual([])
  })

  it('waits for a rig that a hub started anew has not heard of yet', async () => {
    const { desk, hub, later } = await bench(ASKING)
    hub.reply = liveReply()
    desk.answer(ASKING, ASK, 'yes')
    await settled()
    expect(desk.view()).toMatchObject({ unsent: [{ answer: 'yes' }], told: [] })
    hub.reply = liveReply(ASKING)
    await later()
    expect(hub.sent).toHaveLength(1)
  })

  it('goes on after a reload with what was kept', async () => {
    const { hub, kept } = await bench(ASKING, [{ device: ASKING.device.id, rig: 'north bench', ask: ASK.id, question: 'Is it so?', answer: 'yes', tried: false }])
    expect(hub.sent).toMatchObject([{ answer: 'yes' }])
    expect(kept()).toEqual([])
  })

  it('does not send what was taken back', async () => {
    const { desk, hub, later } = await bench(ASKING)
    hub.reply = null
    desk.answer(ASKING, ASK, 'no')
    await settled()
    desk.withdraw(ASK.id)
    hub.reply = liveReply(ASKING)
    await later()
    expect(hub.sent).toEqual([])
  })
})
