// The one door through which a page changes records, at its widest.
import { afterAll, beforeAll, expect, it } from 'vitest'
import { startTestHub, testSources, type TestHub } from './test-hub.ts'

let test: TestHub
beforeAll(async () => {
  test = await startTestHub()
})
afterAll(() => test.end())

it('a tray of as many samples as one change may hold goes in at once', async () => {
  const { newId } = testSources()
  const partId = test.lab.list('part')[0].id
  const items = Array.from({ length: 5000 }, (_, place) => ({
    before: null,
    after: { kind: 'sample', id: newId(), partId, label: `Q14-${place + 1}`, serial: `SN2026-31-${String(place).padStart(8, '0')}`, batch: 'week 31', origin: 'retail', picked: 'at random', paid: { at: '2026-03-02T08:00:00Z', amount: 300 }, status: 'bench' },
  }))
  const before = test.lab.list('sample').length
  const reply = await test.post('/api/changes', { request: newId(), what: 'Entered a tray of 5000 samples', items })
  expect([reply.status, reply.status === 200 ? '' : reply.text]).toEqual([200, ''])
  expect(test.lab.list('sample').length - before).toBe(5000)
})

it('one item more is refused with a sentence, and nothing of it is kept', async () => {
  const { newId } = testSources()
  const items = Array.from({ length: 5001 }, () => ({ before: null, after: { kind: 'rig', id: newId(), name: 'south bench' } }))
  const reply = await test.post('/api/changes', { request: newId(), what: 'Too much', items })
  expect(reply.status).toBe(400)
  expect(test.lab.list('rig')).toHaveLength(1)
})
