// Every route of the contract over a real workspace, and what bad input gets.
import { rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest'
import { ROUTES, type RouteName } from '@guardband/model'
import type { z } from 'zod'
import { startTestHub, type TestHub } from './test-hub.ts'

const SCRIPT = '<script>alert(1)</script>"\'&'
let test: TestHub
beforeAll(async () => {
  test = await startTestHub({ partName: SCRIPT })
})
afterAll(() => test.end())

/** Parses a reply by the contract's schema; fails the test when it isn't one. */
function replyOf<Name extends RouteName>(name: Name, reply: { readonly status: number; readonly text: string }): z.infer<(typeof ROUTES)[Name]['output']> {
  expect([name, reply.status, reply.status === 200 ? '' : reply.text]).toEqual([name, 200, ''])
  // The schema of this very route made the value.
  return ROUTES[name].output.parse(JSON.parse(reply.text)) as z.infer<(typeof ROUTES)[Name]['output']>
}

function refusalOf(reply: { readonly status: number; readonly text: string }): { readonly status: number; readonly code: string; readonly sentence: string } {
  return { status: reply.status, ...(JSON.parse(reply.text) as { code: string; sentence: string }) }
}

function intakePath(only: string): string {
  return `/api/intake/runs?only=${only}&file=runs.csv`
}

describe('reading', () => {
  it('tells what the workspace holds', async () => {
    const info = replyOf('lab', await test.get('/api/lab'))
    expect(info.lab).toMatchObject({ name: 'Hollin & Pike', simulated: true })
    expect(info.counts).toMatchObject({ parts: 1, samples: 1, tunes: 2, starts: 6, runs: 12 })
  })

  it('lists parts, tunes, workloads, rigs, campaigns, questions and reports', async () => {
    expect(replyOf('parts', await test.get('/api/parts')).rows).toHaveLength(1)
    expect(replyOf('tunes', await test.get('/api/tunes')).rows.map((row) => row.tune.name).toSorted()).toEqual(['as delivered', 'quiet 95 W'])
    expect(replyOf('workloads', await test.get('/api/workloads')).suites.map((suite) => suite.name)).toEqual(['field work'])
    expect(replyOf('rigs', await test.get('/api/rigs')).rows.map((row) => row.rig.name)).toEqual(['north bench'])
    expect(replyOf('campaigns', await test.get('/api/campaigns')).campaigns).toEqual([])
    expect(replyOf('questions', await test.get('/api/questions')).rows).toEqual(expect.any(Array))
    expect(replyOf('reports', await test.get('/api/reports')).reports).toEqual(expect.any(Array))
  })

  it('pages through runs and picks them by id', async () => {
    const page = replyOf('runs', await test.get('/api/runs?from=10&count=5'))
    expect([page.rows.length, page.total]).toEqual([2, 12])
    const [first, second] = test.sample.runIds
    expect(replyOf('runs', await test.get(`/api/runs?ids=${first},${second}`)).rows.map((row) => row.id).toSorted()).toEqual([first, second].toSorted())
  })

  it('finds runs by words and outcome, and those of a start or of a sample by its id', async () => {
    const total = async (query: string) => replyOf('runs', await test.get(`/api/runs?count=3&${query}`)).total
    expect(await total('find=quiet%2095')).toBe(6)
    expect(await total('find=build%20nowhere')).toBe(0)
    expect([await total('outcome=scored'), await total('outcome=failed')]).toEqual([12, 0])
    const start = test.lab.list('start')[2]
    expect([await total(`ids=${start.id}`), await total(`ids=${test.lab.list('in force')[0].id}`), await total(`ids=${test.lab.list('sample')[0].id}`)]).toEqual([2, 2, 12])
    expect(refusalOf(await test.get('/api/runs?outcome=broken'))).toMatchObject({ status: 400 })
    expect(refusalOf(await test.get(`/api/runs?find=${'x'.repeat(201)}`))).toMatchObject({ status: 400 })
  })

  it("returns a script in a part's name as JSON text that no browser runs", async () => {
    const reply = await test.get('/api/parts', { accept: 'text/html' })
    expect(replyOf('parts', reply).rows[0].part.name).toBe(SCRIPT)
    expect(reply.headers['content-type']).toBe('application/json')
    expect(reply.headers['x-content-type-options']).toBe('nosniff')
    expect(reply.headers['content-security-policy']).toContain("script-src 'self'")
  })
})

describe('changing', () => {
  it('sets a run aside, brings it back, and takes a change back, each under the name of the person', async () => {
    const id = test.sample.runIds[3]
    const setAside = async () => replyOf('runs', await test.get(`/api/runs?ids=${id}`)).rows[0].setAside
    replyOf('setAside', await test.post(`/api/runs/${id}/set-aside`, { reason: 'window was open' }))
    expect(await setAside()).toBe('window was open')
    const back = replyOf('bringBack', await test.post(`/api/runs/${id}/bring-back`, { reason: 'it was shut after all' }))
    expect(await setAside()).toBeNull()
    replyOf('undo', await test.post(`/api/changes/${back.change}/undo`, { why: 'no, open' }))
    expect(await setAside()).toBe('window was open')
    const { changes } = replyOf('changes', await test.get('/api/changes?count=3'))
    expect(changes.map((change) => change.who)).toEqual(['tester', 'tester', 'tester'])
    expect(replyOf('changes', await test.get(`/api/changes?count=1&before=${changes[0].seq}`)).changes[0].seq).toBe(changes[1].seq)
  })

  it('asks, answers, cancels and publishes', { timeout: 60_000 }, async () => {
    const { id } = replyOf('ask', await test.post('/api/questions', { title: `is ${SCRIPT} quicker?`, ask: test.sample.ask }))
    let reply = replyOf('answer', await test.get(`/api/questions/${id}/answer`))
    while (reply.state === 'computing') {
      await new Promise((resolve) => setTimeout(resolve, 50))
      reply = replyOf('answer', await test.get(`/api/questions/${id}/answer`))
    }
    expect(reply.state).toBe('ready')
    expect(replyOf('questions', await test.get('/api/questions')).rows.find((row) => row.question.id === id)?.state).toBe('ready')
    expect(replyOf('cancel', await test.post(`/api/questions/${id}/cancel`)).cancelled).toBe(false)
    const { report } = replyOf('publish', await test.post('/api/reports', { title: SCRIPT, questionIds: [id] }))
    expect(replyOf('reports', await test.get('/api/reports')).reports.map((entry) => entry.id)).toContain(report.id)
    const page = await test.get(`/reports/${encodeURIComponent(report.file)}`, { accept: 'text/html' })
    expect(page.status).toBe(200)
    expect(page.headers['content-security-policy']).toMatch(/^sandbox; default-src 'none'/)
    expect(page.headers['content-security-policy']).not.toContain('script-src')
    expect(page.text).not.toContain('<script>alert')
  })

  it('says what the smallest gain of a question starts from: the house default, or what a plan of both tunes fixed', async () => {
    const [one, other] = test.lab.list('tune')
    const path = `/api/smallest-gain?aTune=${one.id}&bTune=${other.id}`
    expect(replyOf('smallestGain', await test.get(path))).toEqual({ from: 'house', percent: 0.5 })
    const fixed = { percent: 2, fixedAt: '2026-03-01T08:00:00Z' }
    const seq = test.lab.apply({ who: 'tester', what: 'a plan', items: [{ before: null, after: { kind: 'campaign', id: '01890000-0000-7000-8000-000000000001', name: 'limits', questionIds: [], tuneIds: [one.id, other.id], smallestGain: fixed } }] })
    expect(replyOf('smallestGain', await test.get(path))).toEqual({ from: 'plan', plan: 'limits', ...fixed })
    test.lab.undo(seq, { who: 'tester', why: '' })
    const part = test.lab.list('part')[0].id
    expect(replyOf('smallestGain', await test.get(`/api/smallest-gain?aPart=${part}&bTune=${other.id}`))).toEqual({ from: 'house', percent: 1 })
    expect(refusalOf(await test.get('/api/smallest-gain?aTune=x'))).toMatchObject({ status: 400 })
  })

  it('begins a computation again only when the query says so, and refuses other words', async () => {
    const nobody = '01890000-0000-7000-8000-000000000000'
    const answerNow = vi.spyOn(test.lab, 'answerNow').mockReturnValue({ state: 'cancelled' })
    try {
      for (const query of ['', '?begin=when%20needed', '?begin=again']) expect(replyOf('answer', await test.get(`/api/questions/${nobody}/answer${query}`))).toEqual({ state: 'cancelled' })
      expect(answerNow.mock.calls).toEqual([[nobody, { begin: 'when needed' }], [nobody, { begin: 'when needed' }], [nobody, { begin: 'again' }]])
      expect(refusalOf(await test.get(`/api/questions/${nobody}/answer?begin=now`))).toMatchObject({ status: 400, sentence: 'begin must be one of "when needed", "again"; got "now".' })
    } finally {
      answerNow.mockRestore()
    }
  })

  it('holds the reply back while the answer is being computed, as long as the query says and no longer than a second', { timeout: 60_000 }, async () => {
    const { id } = replyOf('ask', await test.post('/api/questions', { title: 'waited for', ask: test.sample.ask }))
    let reply = replyOf('answer', await test.get(`/api/questions/${id}/answer?wait=1000`))
    // On a machine under load a second may be too short; each reply then says that it is being computed.
    for (let more = 0; reply.state === 'computing' && more < 30; more++) reply = replyOf('answer', await test.get(`/api/questions/${id}/answer?wait=1000`))
    expect(reply.state).toBe('ready')
    const answerNow = vi.spyOn(test.lab, 'answerNow').mockReturnValue({ state: 'computing', progress: 0, seconds: 0 })
    try {
      expect(replyOf('answer', await test.get(`/api/questions/${id}/answer?wait=20`)).state).toBe('computing')
      expect(answerNow).toHaveBeenCalledTimes(2)
      expect(replyOf('answer', await test.get(`/api/questions/${id}/answer`)).state).toBe('computing')
      expect(answerNow).toHaveBeenCalledTimes(3)
    } finally {
      answerNow.mockRestore()
    }
    expect(refusalOf(await test.get(`/api/questions/${id}/answer?wait=1001`)).status).toBe(400)
  })

  it('looks at a CSV and takes it in, or says line and mend', async () => {
    const csv = { 'content-type': 'text/csv' }
    const broken = replyOf('intake', await test.post(intakePath('take'), 'no,such\ncolumns,here\n', csv))
    expect(broken.taken).toBe(false)
    expect(broken.questions.length).toBeGreaterThan(0)
    expect(refusalOf(await test.post(intakePath('guess'), 'a\n', csv))).toMatchObject({ status: 400, sentence: 'only must be one of "preview", "take"; got "guess".' })
    const nul = refusalOf(await test.post(intakePath('preview'), Buffer.from([0x61, 0x0a, 0x00, 0x62, 0x0a]), csv))
    expect(nul.status).toBe(400)
    expect(nul.sentence).toContain('line 2')
  })

  it('keeps a table that was sent, reads it anew under other choices, takes it in, and lets it go', { timeout: 60_000 }, async () => {
    const csv = { 'content-type': 'text/csv' }
    const id = '01900000-0000-7000-8000-00000000abcd'
    const table = 'sample,tune,start,date,workload,value\nZ9,open lid,1,11/01/2026,sent table,5\n'
    const seen = replyOf('intakeSend', await test.post(`/api/intake/uploads/${id}?file=sent.csv&zone=Z`, table, csv))
    expect(seen.questions.map(({ about }) => about.choice)).toEqual(['dates', 'zone'])
    const choices = { dates: 'day first', zone: 'Z' }
    const again = replyOf('intakeLook', await test.post(`/api/intake/uploads/${id}/look`, { choices }))
    expect(again).toMatchObject({ questions: [], taken: false, booked: [{ at: '2026-01-11T00:00:00.000Z' }] })
    expect(replyOf('intakeProgress', await test.get(`/api/intake/uploads/${id}/progress`))).toEqual({ doing: 'nothing', done: 0 })
    const done = replyOf('intakeTake', await test.post(`/api/intake/uploads/${id}/take`, { choices, remember: 'sent tables' }))
    expect(done.taken).toBe(true)
    expect(test.lab.list('layout').map(({ name }) => name)).toEqual(['sent tables'])
    test.lab.undo(done.change ?? 0, { who: 'tester', why: 'tried' })
    expect(test.lab.list('layout')).toEqual([])
    expect(replyOf('intakeCancel', await test.post(`/api/intake/uploads/${id}/cancel`))).toEqual({ cancelled: false })
    expect(refusalOf(await test.post(`/api/intake/uploads/${id}/look`, { choices })).status).toBe(404)
  })
})

describe('bad input', () => {
  it('gets a sentence with name, rule and value', async () => {
    const { about } = test.sample.ask
    const asked = (change: object) => test.post('/api/questions', { ask: { kind: 'gain', about: { ...about, ...change } } })
    const sentences = [
      refusalOf(await asked({ smallestGain: { percent: -1, fixedAt: '2026-03-01T08:00:00Z' } })),
      refusalOf(await asked({ smallestGain: { percent: '1', fixedAt: '2026-03-01T08:00:00Z' } })),
      refusalOf(await asked({ suiteId: 'x' })),
      refusalOf(await asked({ more: 1 })),
      refusalOf(await test.get('/api/runs?count=501')),
      refusalOf(await test.get('/api/runs?from=1e400')),
      refusalOf(await test.get('/api/runs?ids=1')),
      refusalOf(await test.get('/api/lab?x=1')),
    ]
    expect(sentences.map((entry) => `${entry.status} ${entry.code}: ${entry.sentence}`)).toEqual([
      '400 input: ask.about.smallestGain.percent must be more than 0; got -1.',
      '400 input: ask.about.smallestGain.percent must be a number; got "1".',
      '400 input: ask.about.suiteId must be an id (UUID in lower case); got "x".',
      '400 input: ask.about must have only known fields; got "more".',
      '400 input: count must be at most 500; got "501".',
      '400 input: from must be a number; got "1e400".',
      '400 input: ids must be UUIDs in lower case with commas between them.',
      '400 input: the query must have only known fields; got "x".',
    ])
  })

  it('is refused when it is not JSON, not UTF-8, or called something else', async () => {
    expect(refusalOf(await test.post('/api/questions', '{"ask":'))).toMatchObject({ status: 400, code: 'body-json' })
    expect(refusalOf(await test.post('/api/questions', '{}', { 'content-type': 'text/plain' }))).toMatchObject({ status: 415, code: 'body-type' })
    expect(refusalOf(await test.post('/api/questions', '[1e999]'))).toMatchObject({ status: 400, code: 'input' })
    expect(refusalOf(await test.post('/api/questions', `${'['.repeat(100_000)}${']'.repeat(100_000)}`))).toMatchObject({ status: 400 })
    expect(refusalOf(await test.post('/api/questions', '{"__proto__":{"ask":1}}'))).toMatchObject({ status: 400, code: 'input' })
  })

  it('gets 404 for what is not there and 400 for what cannot be an address', async () => {
    const nobody = '01890000-0000-7000-8000-000000000000'
    expect(refusalOf(await test.post(`/api/runs/${nobody}/set-aside`, { reason: 'x' })).status).toBe(404)
    expect(refusalOf(await test.get(`/api/questions/${nobody}/answer`)).status).toBe(404)
    expect(refusalOf(await test.post('/api/changes/999999/undo', { why: '' })).status).toBe(404)
    for (const seq of ['0', '-1', '1.5', '1e309', '99999999999999999999', 'x', '%00']) expect([seq, (await test.post(`/api/changes/${seq}/undo`, { why: '' })).status]).toEqual([seq, 400])
    expect(refusalOf(await test.post('/api/runs/..%2f..%2fx/set-aside', { reason: 'x' })).status).toBe(400)
    expect(refusalOf(await test.get('/api/nothing')).status).toBe(404)
    expect(refusalOf(await test.post('/api/lab', {})).status).toBe(404)
  })

  it('never shows the insides of a fault, which the terminal gets', async () => {
    vi.spyOn(test.lab, 'parts').mockImplementationOnce(() => {
      throw new Error('inside detail')
    })
    const reply = refusalOf(await test.get('/api/parts'))
    expect(reply).toMatchObject({ status: 500, code: 'internal' })
    expect(reply.sentence).not.toContain('inside detail')
    expect(test.said.join('\n')).toContain('inside detail')
  })
})

describe('the page', () => {
  it('is index.html at every route that a person may open', async () => {
    for (const path of ['/', '/questions/abc', '/reports', '/lab?x=1', '/index.html']) {
      const reply = await test.get(path, { accept: 'text/html,*/*' })
      expect([path, reply.status, reply.text]).toEqual([path, 200, '<!doctype html><title>page</title>'])
      expect(reply.headers['cache-control']).toBe('no-cache')
    }
  })

  it('keeps hashed files for ever, packed where the browser can unpack', async () => {
    const plain = await test.get('/assets/main-4f2a.js')
    expect([plain.text, plain.headers['content-type']]).toEqual(['export const page = 1\n', 'text/javascript; charset=utf-8'])
    expect(plain.headers['cache-control']).toContain('immutable')
    const packed = await test.get('/assets/main-4f2a.js', { 'accept-encoding': 'gzip, br' })
    expect([packed.text, packed.headers['content-encoding']]).toEqual(['packed', 'br'])
    const large = await test.get('/assets/large-77aa.css', { 'accept-encoding': 'gzip' })
    expect(large.headers['content-encoding']).toBe('gzip')
    expect(large.text.length).toBeLessThan(1000)
  })

  it('says what to do when it has not been built', async () => {
    const own = await startTestHub()
    try {
      rmSync(join(own.root, 'web'), { recursive: true })
      const reply = await own.get('/', { accept: 'text/html' })
      expect(reply.status).toBe(503)
      expect(reply.text).toContain('npm start')
    } finally {
      await own.end()
    }
  })

  it('never leads out of its folder, and a file that is gone is a 404', async () => {
    writeFileSync(join(test.root, 'web', '.hidden.html'), 'hidden')
    for (const path of ['/../secret.html', '/assets/../../secret.html', '/..%2fsecret.html', '/%2e%2e/secret.html', '/assets/%2e%2e%2f%2e%2e%2fsecret.html', '/..\\secret.html', '/.hidden.html', '/assets/none.js', '/%00', '/%ff']) {
      const reply = await test.get(path)
      expect([path, [400, 404].includes(reply.status)]).toEqual([path, true])
      expect(reply.text).not.toMatch(/outside|hidden/)
    }
  })
})

describe('reports', () => {
  it('are only files that a report record names', async () => {
    writeFileSync(join(test.lab.folder, 'reports', 'stray.html'), 'stray')
    symlinkSync(join(test.root, 'secret.html'), join(test.lab.folder, 'reports', 'link.html'))
    for (const path of ['stray.html', 'link.html', '..%2flab.db', '../lab.db', '..%2f..%2fsecret.html', '%2e%2e/%2e%2e/secret.html', '....//secret.html', '/etc/passwd', '..%5csecret.html', '%00.html']) {
      const reply = await test.get(`/reports/${path}`)
      expect([path, reply.status]).toEqual([path, reply.status === 400 ? 400 : 404])
      expect(reply.text).not.toMatch(/stray$|outside|SQLite|root:/)
    }
  })
})

describe('a workspace of their own', () => {
  it('is made beside the one at hand, served from then on, and refused when it exists', async () => {
    const own = await startTestHub()
    try {
      const made = replyOf('newLab', await own.post('/api/labs', { name: 'Bench Two', currency: 'EUR' }))
      expect(made.lab).toMatchObject({ name: 'Bench Two', simulated: false })
      expect(replyOf('lab', await own.get('/api/lab')).folder).toBe(join(own.root, 'own', 'Bench Two'))
      const again = refusalOf(await own.post('/api/labs', { name: 'Bench Two', currency: 'EUR' }))
      expect(again.status).toBe(409)
      expect(replyOf('parts', await own.get('/api/parts')).rows).toEqual([])
    } finally {
      await own.end()
    }
  })
})
