// Marks that bear a name bear that of the log, and what a question asks can't be rewritten.
import { afterAll, beforeAll, expect, it } from 'vitest'
import type { Question, Sample } from '@guardband/model'
import { startTestHub, type TestHub } from './test-hub.ts'

let test: TestHub
beforeAll(async () => {
  test = await startTestHub()
})
afterAll(() => test.end())

const AT = '2026-11-06T08:00:00Z'
let sent = 0
function change(before: unknown, after: unknown): Promise<{ readonly status: number; readonly text: string }> {
  sent += 1
  return test.post('/api/changes', { request: `01a0a0a0-0000-7000-8000-00000000010${sent}`, what: 'Changed it', why: 'seen on the bench', items: [{ before, after }] })
}

it('a quarantine and an inspection are signed by the log, not by the page; an older one keeps its name', async () => {
  const sample = test.lab.list('sample')[0]
  const marked: Sample = { ...sample, status: 'quarantined', quarantine: { reason: 'bent pin', by: 'somebody else', at: AT } }
  expect((await change(sample, marked)).status).toBe(200)
  const { who } = test.lab.changes({ count: 1 })[0]
  expect(who).not.toBe('somebody else')
  const now = test.lab.get(sample.id)
  expect(now).toMatchObject({ quarantine: { reason: 'bent pin', by: who, at: AT } })
  const elsewhere = { ...marked, quarantine: { reason: 'bent pin', by: 'Bo Pike', at: AT } }
  test.lab.apply({ who: 'tester', what: 'as it stood elsewhere', items: [{ before: now ?? null, after: elsewhere }] })
  expect((await change(elsewhere, { ...elsewhere, inspections: [{ at: AT, by: 'somebody else', dry: true, found: 'dry' }] })).status).toBe(200)
  expect(test.lab.get(sample.id)).toMatchObject({ quarantine: { by: 'Bo Pike' }, inspections: [{ by: who }] })
})

it('the smallest gain of a question stays as it was fixed; a question gets a name all the same', async () => {
  test.lab.ask({ ask: test.sample.ask }, { who: 'tester' })
  const question = test.lab.list('question')[0] satisfies Question
  const { about } = question.ask
  const earlier = { ...question, ask: { ...question.ask, about: { ...about, smallestGain: { percent: 0.1, fixedAt: '2026-01-01T08:00:00Z' } } } }
  const refused = await change(question, earlier)
  expect([refused.status, refused.text]).toEqual([400, expect.stringContaining('fixed when it is asked')])
  expect((await change(null, { ...earlier, id: '01a0a0a0-0000-7000-8000-000000000200' })).status).toBe(400)
  expect((await change(question, { ...question, title: 'Limits' })).status).toBe(200)
})
