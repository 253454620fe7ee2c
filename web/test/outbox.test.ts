// Entries reach the hub in order and once, survive a reload and a silent hub, and one that is refused stops only what builds on it.
import { describe, expect, it } from 'vitest'
import { createIdFactory } from '@guardband/model/ids'
import type { ChangeItem } from '@guardband/model/change'
import { HubError } from '../hub/client.ts'
import { createOutbox, type Outbox, type OutboxEntry, type OutboxEvent, type OutboxStore } from '../hub/outbox.ts'

const LAB = '0198a6f0-0000-7000-8000-000000000001'
const newId = createIdFactory({ now: () => 1_800_000_000_000, fillRandom: (bytes) => void bytes.fill(7) })

function memoryStore(): OutboxStore & { readonly held: Map<string, string> } {
  const held = new Map<string, string>()
  return { held, keys: () => [...held.keys()], get: (key) => held.get(key) ?? null, set: (key, text) => void held.set(key, text), remove: (key) => void held.delete(key) }
}

/** Work under one name goes one after the other, as the browser's locks have it. */
function locks(): (name: string, work: () => Promise<void>) => Promise<void> {
  let last = Promise.resolve()
  return (_name, work) => {
    const next = last.then(work)
    last = next.catch(() => undefined)
    return next
  }
}

function made(id = newId(), name = 'a part'): ChangeItem {
  return { before: null, after: { kind: 'part', id, name, slot: 'processor', prices: [] } }
}

function sampleOf(partId: string): ChangeItem {
  return { before: null, after: { kind: 'sample', id: newId(), partId, label: 'one', origin: 'unknown', picked: 'unknown', status: 'bench' } }
}

function entry(...items: readonly ChangeItem[]): Pick<OutboxEntry, 'request' | 'about' | 'act'> {
  return { request: newId(), about: 'sheet', act: { kind: 'change', what: 'Entered', items } }
}

const refusing = (refused: ReadonlySet<string>): Hub => ({ got: [], answer: ({ request }) => (refused.has(request) ? Promise.reject(new HubError('sample-wet', 'Q14-1 is wet.')) : 1) })

interface Hub {
  readonly got: string[]
  answer: (entry: OutboxEntry) => Promise<number> | number
}

function open(store: OutboxStore, hub: Hub, alone = locks(), later: (milliseconds: number, work: () => void) => void = () => undefined): { readonly outbox: Outbox; readonly events: OutboxEvent[] } {
  const outbox = createOutbox({
    labId: LAB, store, alone, later,
    send: async (sent) => {
      hub.got.push(sent.request)
      return hub.answer(sent)
    },
  })
  const events: OutboxEvent[] = []
  outbox.listen((event) => events.push(event))
  return { outbox, events }
}

describe('on the way', () => {
  it('entries go one at a time, in the order in which they were made', async () => {
    let under = 0
    let most = 0
    const hub: Hub = {
      got: [],
      answer: async () => {
        under += 1
        most = Math.max(most, under)
        await Promise.resolve()
        under -= 1
        return hub.got.length
      },
    }
    const { outbox, events } = open(memoryStore(), hub)
    const entries = [entry(made()), entry(made()), entry(made())]
    for (const one of entries) outbox.add(one)
    await outbox.flush()
    expect([hub.got, most, outbox.entries()]).toEqual([entries.map(({ request }) => request), 1, []])
    expect(events.flatMap((event) => (event.type === 'saved' ? [event.change] : []))).toEqual([1, 2, 3])
  })

  it('an entry is kept before it is sent, and forgotten only after the reply', async () => {
    const store = memoryStore()
    const during: number[] = []
    const { outbox } = open(store, { got: [], answer: () => during.push(store.held.size) })
    outbox.add(entry(made()))
    await outbox.flush()
    expect([during, store.held.size]).toEqual([[1], 0])
  })

  it('a silent hub gets it again under the same id, also after a reload, and later entries wait behind it', async () => {
    const store = memoryStore()
    const hub: Hub = { got: [], answer: () => Promise.reject(new HubError('hub-silent', 'The hub does not answer.')) }
    const first = open(store, hub)
    const [one, two] = [entry(made()), entry(made())]
    first.outbox.add(one)
    first.outbox.add(two)
    await first.outbox.flush()
    expect([new Set(hub.got), first.outbox.trouble()]).toEqual([new Set([one.request]), 'The hub does not answer.'])
    const alive: Hub = { got: [], answer: () => 1 }
    const second = open(store, alive)
    expect(second.outbox.entries().map(({ request }) => request)).toEqual([one.request, two.request])
    await second.outbox.flush()
    expect([alive.got, store.held.size, second.outbox.trouble()]).toEqual([[one.request, two.request], 0, null])
  })

  it('a hub that was started anew and has not let this browser in yet refuses nothing: the entry waits', async () => {
    const store = memoryStore()
    const hub: Hub = { got: [], answer: () => Promise.reject(new HubError('no-session', 'This browser has not been let in.')) }
    const { outbox } = open(store, hub)
    outbox.add(entry(made()))
    await outbox.flush()
    expect([outbox.entries().map(({ state }) => state), outbox.trouble()]).toEqual([['waiting'], 'This browser has not been let in.'])
    hub.answer = () => 1
    await outbox.flush()
    expect([store.held.size, outbox.trouble()]).toEqual([0, null])
  })

  it('it tries again by itself, after longer and longer pauses', async () => {
    const pauses: number[] = []
    const again: (() => void)[] = []
    const hub: Hub = { got: [], answer: () => Promise.reject(new HubError('hub-silent', 'silent')) }
    const { outbox } = open(memoryStore(), hub, locks(), (milliseconds, work) => {
      pauses.push(milliseconds)
      again.push(work)
    })
    outbox.add(entry(made()))
    await outbox.flush()
    for (let round = 0; round < 5; round++) {
      again.at(-1)?.()
      await outbox.flush()
    }
    expect(pauses.slice(0, 4)).toEqual([700, 1400, 2800, 5600])
    expect(Math.max(...pauses)).toBe(8000)
  })

  it('two tabs over one store send each entry once, and the other tab hears of it', async () => {
    const store = memoryStore()
    const hub: Hub = { got: [], answer: () => new Promise((resolve) => setTimeout(() => resolve(hub.got.length), 2)) }
    const alone = locks()
    const [left, right] = [open(store, hub, alone), open(store, hub, alone)]
    const one = entry(made())
    left.outbox.add(one)
    await Promise.all([left.outbox.flush(), right.outbox.flush()])
    right.outbox.add(entry(made()))
    await Promise.all([left.outbox.flush(), right.outbox.flush()])
    await left.outbox.flush()
    expect([hub.got.length, new Set(hub.got).size]).toEqual([2, 2])
    expect([left.outbox.entries(), right.outbox.entries()]).toEqual([[], []])
  })

  it('what is entered in one lab is not sent while another is open', async () => {
    const store = memoryStore()
    const silent = open(store, { got: [], answer: () => Promise.reject(new HubError('hub-silent', 'silent')) })
    silent.outbox.add(entry(made()))
    await silent.outbox.flush()
    const other = createOutbox({ labId: '0198a6f0-0000-7000-8000-000000000002', store, alone: locks(), later: () => undefined, send: () => Promise.reject(new Error('nothing must be sent')) })
    await other.flush()
    expect([other.entries(), store.held.size]).toEqual([[], 1])
  })
})

describe('a refused entry', () => {
  it('keeps its sentence, holds back what builds on it, and lets everything else pass', async () => {
    const part = newId()
    const [bad, needy, free] = [entry(made(part)), entry(sampleOf(part)), entry(made())]
    const store = memoryStore()
    const hub = refusing(new Set([bad.request]))
    const { outbox } = open(store, hub)
    for (const one of [bad, needy, free]) outbox.add(one)
    await outbox.flush()
    expect(hub.got).toEqual([bad.request, free.request])
    expect(outbox.entries().map(({ request, state, sentence }) => [request, state, sentence])).toEqual([[bad.request, 'refused', 'Q14-1 is wet.'], [needy.request, 'held', undefined]])
    expect(open(store, hub).outbox.entries().map(({ state }) => state)).toEqual(['refused', 'held'])
  })

  it('is sent again on a person\'s word, and what was held then follows', async () => {
    const part = newId()
    const [bad, needy] = [entry(made(part)), entry(sampleOf(part))]
    const refused = new Set([bad.request])
    const hub = refusing(refused)
    const { outbox } = open(memoryStore(), hub)
    outbox.add(bad)
    outbox.add(needy)
    await outbox.flush()
    refused.clear()
    outbox.retry(bad.request)
    await outbox.flush()
    expect([hub.got.slice(-2), outbox.entries()]).toEqual([[bad.request, needy.request], []])
  })

  it('given up takes with it what builds on it, and nothing else', async () => {
    const part = newId()
    const [bad, needy, late] = [entry(made(part)), entry(sampleOf(part)), entry(made())]
    const store = memoryStore()
    const { outbox } = open(store, refusing(new Set([bad.request, late.request])))
    for (const one of [bad, needy, late]) outbox.add(one)
    await outbox.flush()
    outbox.drop(bad.request)
    expect(outbox.entries().map(({ request }) => request)).toEqual([late.request])
    expect(store.held.size).toBe(1)
  })

  it('that was not refused can\'t be given up: it may be on the disk already', async () => {
    const { outbox } = open(memoryStore(), { got: [], answer: () => Promise.reject(new HubError('hub-silent', 'silent')) })
    const one = entry(made())
    outbox.add(one)
    await outbox.flush()
    outbox.drop(one.request)
    expect(outbox.entries()).toHaveLength(1)
  })
})
