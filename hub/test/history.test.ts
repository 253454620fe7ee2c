// History, the items of a change, doses, search and the digest, over a real workspace.
import { afterAll, beforeAll, expect, it } from 'vitest'
import { ROUTES, type RouteName } from '@guardband/model'
import type { z } from 'zod'
import { startTestHub, type TestHub } from './test-hub.ts'

let test: TestHub
beforeAll(async () => {
  test = await startTestHub()
})
afterAll(() => test.end())

async function read<Name extends RouteName>(name: Name, path: string): Promise<z.infer<(typeof ROUTES)[Name]['output']>> {
  const reply = await test.get(path)
  expect([path, reply.status, reply.status === 200 ? '' : reply.text]).toEqual([path, 200, ''])
  // The schema of this very route made the value.
  return ROUTES[name].output.parse(JSON.parse(reply.text)) as z.infer<(typeof ROUTES)[Name]['output']>
}

it('tells the history of a record, page by page, and refuses one that never was', async () => {
  const part = test.lab.list('part')[0]
  test.lab.apply({ who: 'tester', what: 'Renamed it', items: [{ before: part, after: { ...part, name: 'Quillon 15' } }] })
  const history = await read('history', `/api/records/${part.id}/history`)
  expect([history.name, history.here, history.total]).toEqual(['part "Quillon 15"', true, 2])
  expect(history.entries[0]).toMatchObject({ became: 'changed', differences: [{ field: 'name', before: 'Quillon 14', after: 'Quillon 15' }], change: { what: 'Renamed it' } })
  expect((await read('history', `/api/records/${part.id}/history?from=1&count=1`)).entries.map(({ became }) => became)).toEqual(['made'])
  test.lab.undo(test.lab.head(), { who: 'tester', why: '' })
  expect((await read('history', `/api/records/${part.id}/history`)).entries.map(({ change }) => change.undoneBy)).toEqual([undefined, 4, undefined])
  const never = await test.get('/api/records/0198a6f0-0000-7000-8000-000000000001/history')
  expect([never.status, never.text]).toEqual([404, expect.stringContaining('there never was such a record')])
})

it('pages through the items of a change', async () => {
  const all = await read('changeItems', '/api/changes/2?count=200')
  expect(all.items).toHaveLength(all.total)
  expect((await read('changeItems', `/api/changes/2?from=${all.total - 1}`)).items).toEqual(all.items.slice(-1))
  expect((await test.get('/api/changes/99')).status).toBe(404)
  expect((await test.get('/api/changes/2?count=201')).status).toBe(400)
})

it('finds by words, and one kind alone', async () => {
  const found = await read('find', '/api/find?q=quiet')
  expect(found.groups.map(({ kind, total }) => [kind, total])).toEqual([['tune', 1], ['start', 3]])
  expect(found.runs).toBe(6)
  expect((await read('find', '/api/find?q=quillon&kind=sample')).groups.map(({ kind }) => kind)).toEqual(['sample'])
  expect(await read('find', '/api/find?q=')).toEqual({ groups: [], runs: 0 })
  expect((await test.get('/api/find?q=x&kind=run')).status).toBe(400)
})

it('tells what a sample was given, and the digest of all records', async () => {
  const sample = test.lab.list('sample')[0]
  expect(await read('doses', `/api/samples/${sample.id}/doses`)).toEqual({ sums: [], rows: [], runsWithoutTime: 0 })
  expect((await test.get(`/api/samples/${test.lab.list('part')[0].id}/doses`)).status).toBe(404)
  expect((await read('digest', '/api/digest')).digest).toMatch(/^[0-9a-f]{64}$/)
})

it('answers a change that was sent twice with its number, and with a conflict once it was taken back', async () => {
  const part = test.lab.list('part')[0]
  const change = { request: '01a0a0a0-0000-7000-8000-000000000001', what: 'Renamed it', items: [{ before: part, after: { ...part, name: 'Quillon 16' } }] }
  const first = await test.post('/api/changes', change)
  expect([first.status, (await test.post('/api/changes', change)).text]).toEqual([200, first.text])
  test.lab.undo(test.lab.head(), { who: 'tester', why: '' })
  expect(await test.post('/api/changes', change)).toMatchObject({ status: 409, text: expect.stringContaining('taken back since') })
})
