// The event stream: what happened, whoever did it.
import { execFile } from 'node:child_process'
import { request } from 'node:http'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { eventSchema, type HubEvent } from '@guardband/model'
import { startTestHub, type TestHub } from './test-hub.ts'

let test: TestHub
beforeEach(async () => {
  test = await startTestHub()
})
afterEach(() => test.end())

interface Listener {
  /** Resolves with the first event, seen or coming, that fits. */
  readonly next: (fits: (event: HubEvent) => boolean) => Promise<HubEvent>
  readonly ended: Promise<void>
  readonly stop: () => void
}

async function listen(headers: Readonly<Record<string, string>> = {}): Promise<Listener> {
  const cookie = await test.cookie()
  return new Promise((resolve, reject) => {
    const seen: HubEvent[] = []
    const waiting = new Set<() => void>()
    const outgoing = request({ host: '127.0.0.1', port: test.hub.port, path: '/api/events', agent: false, headers: { cookie, ...headers } }, (incoming) => {
      if (incoming.statusCode !== 200) return reject(new Error(`the stream must open; got ${incoming.statusCode}`))
      let rest = ''
      incoming.setEncoding('utf8')
      incoming.on('data', (part: string) => {
        rest += part
        const messages = rest.split('\n\n')
        rest = messages.pop() ?? ''
        for (const data of messages.flatMap((message) => message.split('\n').filter((line) => line.startsWith('data: ')))) seen.push(eventSchema.parse(JSON.parse(data.slice('data: '.length))))
        for (const look of waiting) look()
      })
      const ended = new Promise<void>((done) => incoming.on('close', () => done()))
      incoming.on('error', () => undefined)
      resolve({
        ended,
        stop: () => outgoing.destroy(),
        next: (fits) =>
          new Promise((found) => {
            const look = (): void => {
              const event = seen.find(fits)
              if (event === undefined) return
              waiting.delete(look)
              found(event)
            }
            waiting.add(look)
            look()
          }),
      })
    })
    outgoing.on('error', reject)
    outgoing.end()
  })
}

describe('the event stream', () => {
  it('tells of a change that another process made', async () => {
    const listener = await listen()
    const { stdout } = await promisify(execFile)(process.execPath, ['--disable-warning=ExperimentalWarning', join(import.meta.dirname, 'write-changes.ts'), test.lab.folder, test.sample.runIds[0], 'dusty'])
    expect(await listener.next((event) => event.type === 'changed')).toEqual({ type: 'changed', head: Number(stdout) })
    listener.stop()
  })

  it('tells of a change made through the page', async () => {
    const listener = await listen()
    const { change } = JSON.parse((await test.post(`/api/runs/${test.sample.runIds[0]}/set-aside`, { reason: 'dusty' })).text) as { change: number }
    expect(await listener.next((event) => event.type === 'changed')).toEqual({ type: 'changed', head: change })
    listener.stop()
  })

  it('tells how far an answer is, as the reply to who asks does', { timeout: 60_000 }, async () => {
    await test.end()
    test = await startTestHub({ answerWorker: new URL('endless-worker.ts', import.meta.url) })
    const listener = await listen()
    const { id } = JSON.parse((await test.post('/api/questions', { ask: test.sample.ask })).text) as { id: string }
    await test.get(`/api/questions/${id}/answer`)
    for (const progress of [0, 0.25, 0.75]) {
      expect(await listener.next((event) => event.type === 'answer' && event.progress === progress)).toEqual({ type: 'answer', questionId: id, state: 'computing', progress })
    }
    expect(JSON.parse((await test.get(`/api/questions/${id}/answer`)).text)).toMatchObject({ state: 'computing', progress: 0.75 })
    listener.stop()
  })

  it('tells when an answer is ready', { timeout: 60_000 }, async () => {
    const listener = await listen()
    const { id } = JSON.parse((await test.post('/api/questions', { ask: test.sample.ask })).text) as { id: string }
    await test.get(`/api/questions/${id}/answer`)
    expect(await listener.next((event) => event.type === 'answer' && event.state === 'ready')).toMatchObject({ questionId: id })
    listener.stop()
  })

  it('tells a page that comes back what it missed', async () => {
    const head = test.lab.head()
    test.lab.setAside(test.sample.runIds[0], { who: 'x', reason: 'dusty' })
    const listener = await listen({ 'last-event-id': String(head) })
    expect(await listener.next((event) => event.type === 'changed')).toEqual({ type: 'changed', head: head + 1 })
    listener.stop()
  })

  it('tells that another workspace is served, and follows that one', async () => {
    const listener = await listen()
    await test.post('/api/labs', { name: 'Bench Two', currency: '' })
    expect(await listener.next((event) => event.type === 'lab switched')).toEqual({ type: 'lab switched' })
    listener.stop()
  })

  it('ends when the hub closes', async () => {
    const listener = await listen()
    await test.hub.close()
    await listener.ended
  })
})
