// The outbox of the bench view: nothing is called saved before the hub's reply, nothing is sent out of order, nothing is lost over a reload.
import { describe, expect, it } from 'vitest'
import { PHONE_ROUTES } from '@guardband/model/api/phone'
import { createOutbox, type Message, type MessageStore, type Outbox, type SendResult } from '../../phone/outbox.ts'
import { PATHS, sendMessage } from '../../phone/send-message.ts'

const LAB = '00000000-0000-7000-8000-000000000000'
const id = (number: number): string => `00000000-0000-7000-8000-${String(number).padStart(12, '0')}`

function entry(number: number, options: { readonly makes?: string; readonly names?: string } = {}): Message {
  const rig = { kind: 'rig', id: options.makes ?? id(1000 + number), name: options.names ?? 'north bench' } as const
  return { kind: 'entry', request: id(number), labId: LAB, what: `entry ${number}`, items: [{ before: null, after: rig }] }
}

function memoryStore(first: readonly Message[] = []): MessageStore & { readonly kept: () => readonly string[] } {
  let all = [...first]
  return {
    all: () => Promise.resolve([...all]),
    put: async (message) => void all.push(message),
    remove: async (request) => void (all = all.filter((message) => message.request !== request)),
    kept: () => all.map(({ request }) => request),
  }
}

interface Desk {
  readonly outbox: Outbox
  readonly store: ReturnType<typeof memoryStore>
  /** What was sent, in order. */
  readonly sent: Message[]
  /** Answers the oldest message that waits for a reply. */
  readonly reply: (result: SendResult) => Promise<void>
  /** Lets the pause before the next try pass. */
  readonly retry: () => Promise<void>
  readonly pauses: number[]
}

async function begin(first: readonly Message[] = []): Promise<Desk> {
  const store = memoryStore(first)
  const sent: Message[] = []
  const asking: ((result: SendResult) => void)[] = []
  const pauses: number[] = []
  let next: (() => void) | undefined
  const outbox = await createOutbox({
    store,
    send: (message) => {
      sent.push(message)
      return new Promise((resolve) => asking.push(resolve))
    },
    later: (milliseconds, work) => {
      pauses.push(milliseconds)
      next = work
      return () => (next = undefined)
    },
  })
  await settle()
  return {
    outbox, store, sent, pauses,
    reply: async (result) => {
      asking.shift()?.(result)
      await settle()
    },
    retry: async () => {
      const work = next
      next = undefined
      work?.()
      await settle()
    },
  }
}

function settle(): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, 0))
}

describe('the outbox', () => {
  it('keeps an entry before it is sent, and lets go of it only after the reply', async () => {
    const { outbox, store, sent, reply } = await begin()
    await outbox.add(entry(1))
    expect([store.kept(), sent.length, outbox.state().state]).toEqual([[id(1)], 1, 'sending'])
    await reply({ result: 'saved' })
    expect([store.kept(), outbox.waiting(), outbox.state().state]).toEqual([[], [], 'all saved'])
  })

  it('sends one at a time and in order, also what comes while one is on its way', async () => {
    const { outbox, sent, reply } = await begin()
    await outbox.add(entry(1))
    await outbox.add(entry(2))
    await outbox.add(entry(3))
    expect(sent.map(({ request }) => request)).toEqual([id(1)])
    await reply({ result: 'saved' })
    await reply({ result: 'saved' })
    await reply({ result: 'saved' })
    expect(sent.map(({ request }) => request)).toEqual([id(1), id(2), id(3)])
    expect(outbox.state().state).toBe('all saved')
  })

  it('sends the same entry under the same id until there is a reply, in longer and longer pauses', async () => {
    const { outbox, sent, reply, retry, pauses } = await begin()
    await outbox.add(entry(1))
    for (let place = 0; place < 6; place++) {
      await reply({ result: 'silent' })
      expect(outbox.state().state).toBe('silent')
      await retry()
    }
    await reply({ result: 'saved' })
    expect(sent).toHaveLength(7)
    expect(new Set(sent.map(({ request }) => request))).toEqual(new Set([id(1)]))
    expect(pauses.every((pause, place) => place === 0 || pause >= (pauses[place - 1] ?? 0))).toBe(true)
    expect(Math.max(...pauses)).toBeLessThanOrEqual(8000)
    expect(outbox.state().state).toBe('all saved')
  })

  it('goes on with what a page before it left', async () => {
    const { sent, reply, store } = await begin([entry(1), entry(2)])
    await reply({ result: 'saved' })
    await reply({ result: 'saved' })
    expect(sent.map(({ request }) => request)).toEqual([id(1), id(2)])
    expect(store.kept()).toEqual([])
  })

  it('stops at one that was refused until a person decides, and says why', async () => {
    const { outbox, sent, reply } = await begin()
    await outbox.add(entry(1))
    await outbox.add(entry(2))
    await reply({ result: 'refused', sentence: 'It has changed since.' })
    expect(outbox.state()).toMatchObject({ state: 'refused', sentence: 'It has changed since.' })
    await outbox.add(entry(3))
    expect(sent).toHaveLength(1)
    outbox.tryNow()
    await reply({ result: 'saved' })
    await reply({ result: 'saved' })
    await reply({ result: 'saved' })
    expect(sent.map(({ request }) => request)).toEqual([id(1), id(1), id(2), id(3)])
  })

  it('gives up with a refused entry what builds on it, and nothing else', async () => {
    const { outbox, store, sent, reply } = await begin()
    const made = id(77)
    await outbox.add(entry(1, { makes: made }))
    await outbox.add(entry(2))
    await outbox.add(entry(3, { names: made }))
    await outbox.add({ kind: 'take back', request: id(4), labId: LAB, what: 'take back 1', entry: id(1), items: [] })
    await reply({ result: 'refused', sentence: 'no' })
    expect((await outbox.leaveOut()).map(({ request }) => request)).toEqual([id(1), id(3), id(4)])
    await reply({ result: 'saved' })
    expect(sent.map(({ request }) => request)).toEqual([id(1), id(2)])
    expect([store.kept(), outbox.state().state]).toEqual([[], 'all saved'])
  })

  it('takes out again only what was never sent', async () => {
    const { outbox, store, reply, sent } = await begin()
    await outbox.add(entry(1))
    await outbox.add(entry(2))
    expect(await outbox.withdraw(id(1))).toBe(false)
    expect(await outbox.withdraw(id(2))).toBe(true)
    await reply({ result: 'saved' })
    expect(sent.map(({ request }) => request)).toEqual([id(1)])
    expect(store.kept()).toEqual([])
  })

  it('does not believe that what an earlier page left was never sent', async () => {
    const { outbox } = await begin([entry(1), entry(2)])
    expect(await outbox.withdraw(id(2))).toBe(false)
  })
})

describe('sending', () => {
  it('takes only a whole reply with 200 for saved', async () => {
    expect(await send(200, { change: 7 })).toEqual({ result: 'saved' })
    expect(await sendMessage(entry(1), () => Promise.resolve({ status: 200, json: () => Promise.reject(new Error('cut off')) }))).toEqual({ result: 'silent' })
    expect(await sendMessage(entry(1), () => Promise.reject(new TypeError('no way there')))).toEqual({ result: 'silent' })
  })

  it('takes a broken hub for a silent one, and a sentence for a refusal', async () => {
    expect(await send(500, { code: 'internal', sentence: 'x' })).toEqual({ result: 'silent' })
    expect(await send(503, undefined)).toEqual({ result: 'silent' })
    expect(await send(409, { code: 'changed-meanwhile', sentence: 'It has changed.' })).toEqual({ result: 'refused', sentence: 'It has changed.' })
    expect(await send(401, { code: 'not-let-in', sentence: 'x' })).toEqual({ result: 'shut out' })
  })

  it('is content when somebody has taken the entry back, or there is nothing to take back', async () => {
    const takeBack: Message = { kind: 'take back', request: id(2), labId: LAB, what: 'x', entry: id(1), items: [] }
    expect(await send(400, { code: 'request-taken-back', sentence: 'x' })).toEqual({ result: 'saved' })
    expect(await send(404, { code: 'no-change', sentence: 'x' }, takeBack)).toEqual({ result: 'saved' })
    expect(await send(404, { code: 'no-change', sentence: 'x' })).toMatchObject({ result: 'refused' })
  })

  it('uses the paths of the contract', () => {
    for (const [name, path] of Object.entries(PATHS)) expect([name, path]).toEqual([name, PHONE_ROUTES[name as keyof typeof PATHS].path])
  })
})

function send(status: number, reply: unknown, message: Message = entry(1)): Promise<SendResult> {
  return sendMessage(message, () => Promise.resolve({ status, json: () => Promise.resolve(reply) }))
}
