// What the entry grid holds a typed figure against.
import { afterAll, beforeAll, expect, it } from 'vitest'
import { ROUTES, type Sheet } from '@guardband/model'
import { startTestHub, testSources, type TestHub } from './test-hub.ts'

let test: TestHub
beforeAll(async () => {
  test = await startTestHub()
})
afterAll(() => test.end())

it('the usual value of a measure is the median of its last scored runs, without those that were set aside', async () => {
  const { lab } = test
  const workloadId = lab.list('workload')[0].id
  const { newId } = testSources()
  const sheet: Sheet = {
    kind: 'sheet', id: newId(), name: 'field work', rigId: lab.list('rig')[0].id, at: '2026-03-03T07:00:00Z', workloadIds: [workloadId], repeats: 1, conditions: {},
    starts: [{ startId: newId(), tuneId: lab.list('tune')[0].id, how: 'cold', slots: [{ slot: 'processor', sampleId: lab.list('sample')[0].id }] }],
  }
  lab.apply({ who: 'test', what: 'a sheet', items: [{ before: null, after: sheet }] })
  const usual = async () => ROUTES.usualValues.output.parse(JSON.parse((await test.get(`/api/usual-values?sheetId=${sheet.id}`)).text)).values
  // Sorted by hand: 995 996 1001 1002 1004 1005 1017 1018 1022 1023 1025 1026.
  expect(await usual()).toEqual([{ workloadId, measure: 'score', median: 1011, runs: 12 }])
  const highest = lab.list('run').filter(({ measures }) => (measures[0]?.value ?? 0) > 1020)
  for (const { id } of highest) lab.setAside(id, { who: 'test', reason: 'window left open' })
  expect(await usual()).toEqual([{ workloadId, measure: 'score', median: 1003, runs: 8 }])
})
