// When the work that nobody waits for is done; and that the hub's is to get an answer worker ready.
import { Hono } from 'hono'
import { afterEach, beforeEach, expect, it, vi } from 'vitest'
import { createWhenIdle, FIRST_MS, QUIET_MS } from '../when-idle.ts'
import { startTestHub } from './test-hub.ts'

beforeEach(() => void vi.useFakeTimers())
afterEach(() => void vi.useRealTimers())

function watched() {
  const work = vi.fn()
  const idle = createWhenIdle(work)
  const app = new Hono()
  app.use(idle.watch)
  app.get('/quick', (c) => c.text('here'))
  app.get('/slow', async (c) => {
    await new Promise((resolve) => setTimeout(resolve, 10 * FIRST_MS))
    return c.text('at last')
  })
  return { work, idle, get: (path: string) => Promise.resolve(app.request(path)) }
}

it('is done once, when nobody has come for a while', async () => {
  const { work, idle, get } = watched()
  idle.begin()
  await vi.advanceTimersByTimeAsync(FIRST_MS - 1)
  expect(work).toHaveBeenCalledTimes(0)
  await vi.advanceTimersByTimeAsync(1)
  expect(work).toHaveBeenCalledTimes(1)
  await get('/quick')
  await vi.advanceTimersByTimeAsync(10 * FIRST_MS)
  expect(work).toHaveBeenCalledTimes(1)
})

it('waits for the last of the first requests to end, and for quiet after it', async () => {
  const { work, idle, get } = watched()
  idle.begin()
  const slow = get('/slow')
  await get('/quick')
  await vi.advanceTimersByTimeAsync(10 * FIRST_MS)
  await slow
  expect(work).toHaveBeenCalledTimes(0)
  await vi.advanceTimersByTimeAsync(QUIET_MS - 1)
  await get('/quick')
  await vi.advanceTimersByTimeAsync(QUIET_MS - 1)
  expect(work).toHaveBeenCalledTimes(0)
  await vi.advanceTimersByTimeAsync(1)
  expect(work).toHaveBeenCalledTimes(1)
})

it('is not done any more once it was cancelled', async () => {
  const { work, idle, get } = watched()
  idle.begin()
  idle.cancel()
  await get('/quick')
  await vi.advanceTimersByTimeAsync(10 * FIRST_MS)
  expect(work).toHaveBeenCalledTimes(0)
})

it('gets an answer worker of the hub ready after the first page, unless the hub is closed before', { timeout: 20_000 }, async () => {
  vi.useRealTimers()
  const hub = await startTestHub()
  const warm = vi.spyOn(hub.lab, 'warm').mockResolvedValue()
  await hub.get('/', { accept: 'text/html' })
  await vi.waitFor(() => expect(warm).toHaveBeenCalledTimes(1), { timeout: 10_000 })
  await hub.end()

  const short = await startTestHub()
  const never = vi.spyOn(short.lab, 'warm').mockResolvedValue()
  await short.get('/', { accept: 'text/html' })
  await short.end()
  await new Promise((resolve) => setTimeout(resolve, 2 * QUIET_MS))
  expect(never).toHaveBeenCalledTimes(0)
})
