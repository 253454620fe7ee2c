// What a person does on the pages, in a real browser: each act reaches the hub as the contract says, and the page shows what came of it.
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { INTAKE_LIMIT } from '@guardband/model'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { buildPage, CHROMIUM, openPage, startBrowser, type Watched } from './browser.ts'
import { ANSWER, QUESTION_ID } from './fixtures/answer.ts'
import { RUNS } from './fixtures/lab.ts'
import { Refused, startHubDouble, type HubDouble } from './hub-double.ts'

describe.skipIf(CHROMIUM === '')('acts in a browser (skipped where no Chromium is found)', () => {
  let browser: Browser
  let dist: string
  let hub: HubDouble
  let opened: Watched
  let page: Page

  beforeAll(async () => {
    dist = await mkdtemp(join(tmpdir(), 'guardband-web-'))
    await buildPage(dist)
    browser = await startBrowser()
  }, 120_000)
  afterAll(async () => {
    await browser?.close()
    if (dist !== undefined) await rm(dist, { recursive: true, force: true })
  })
  beforeEach(async () => {
    hub = await startHubDouble(dist)
    opened = await openPage(browser)
    page = opened.page
  })
  afterEach(async () => {
    await opened.context.close()
    await hub.close()
  })

  const answerPath = `/questions/${QUESTION_ID}`

  test('a computing answer shows its progress, takes it from events, can be cancelled, and appears when it is ready', async () => {
    hub.replies.set('answer', { state: 'computing', progress: 0.25, seconds: 3 })
    hub.replies.set('cancel', { cancelled: true })
    await page.goto(hub.address + answerPath)
    await expect.poll(() => page.locator('progress').getAttribute('value')).toBe('0.25')
    await page.getByRole('button', { name: 'Cancel' }).click()
    hub.replies.set('answer', { state: 'cancelled' })
    await page.getByText('Cancelled; nothing was lost.').waitFor()
    expect(hub.posted.map((post) => post.path)).toContain(`/api/questions/${QUESTION_ID}/cancel`)
    hub.replies.set('answer', { state: 'ready', answer: ANSWER })
    hub.send({ type: 'answer', questionId: QUESTION_ID, state: 'ready' })
    await page.locator('.picture').waitFor()
  })

  test("an answer's page has its first reply held back for the computation; lists, which ask for many, do not", async () => {
    const waits: (string | null)[] = []
    hub.replies.set('answer', ({ query }: { query: URLSearchParams }) => {
      waits.push(query.get('wait'))
      return { state: 'ready', answer: ANSWER }
    })
    await page.goto(`${hub.address}/questions`)
    await expect.poll(() => waits.length).toBeGreaterThan(0)
    expect(new Set(waits)).toEqual(new Set([null]))
    waits.length = 0
    await page.goto(hub.address + answerPath)
    await page.locator('.picture').waitFor()
    // A development build of React, as tests have it, mounts twice.
    expect(new Set(waits)).toEqual(new Set(['500']))
  })

  test('a computation that was cancelled or failed begins again at a press, and not by reading the page again', async () => {
    const begins: (string | null)[] = []
    let state: object = { state: 'cancelled' }
    hub.replies.set('answer', ({ query }: { query: URLSearchParams }) => {
      begins.push(query.get('begin'))
      if (query.get('begin') === 'again') state = { state: 'computing', progress: 0, seconds: 0 }
      return state
    })
    for (const [over, words] of [[{ state: 'cancelled' }, 'Cancelled; nothing was lost.'], [{ state: 'failed', sentence: 'The data are too odd.' }, 'The data are too odd.']] as const) {
      state = over
      await page.goto(hub.address + answerPath)
      await page.getByText(words).waitFor()
      expect(begins.at(-1)).toBeNull()
      await page.getByRole('button', { name: 'Compute again' }).click()
      await page.getByText(/Computing, 0 s so far/).waitFor()
      expect(begins.filter((begin) => begin === 'again').length).toBeGreaterThan(0)
      begins.length = 0
    }
    state = { state: 'ready', answer: ANSWER }
    await page.locator('.picture').waitFor()
  })

  test('when data change, the old answer stays until the new one takes its place, and the page says so', async () => {
    await page.goto(hub.address + answerPath)
    await page.locator('.picture').waitFor()
    hub.replies.set('answer', { state: 'computing', progress: 0, seconds: 0 })
    hub.send({ type: 'changed', head: 43 })
    await page.getByText('What is below belongs to the data as they were.').waitFor()
    expect(await page.locator('.picture').count()).toBe(1)
    hub.replies.set('answer', { state: 'ready', answer: { ...ANSWER, snapshotDigest: 'f'.repeat(64) } })
    await page.getByText('the answer below is the new one').waitFor()
    expect(await page.locator('.digest code').textContent()).toBe('f'.repeat(12))
  })

  test("the hub's refusal is shown in its own words, with a way to try again", async () => {
    hub.replies.set('parts', new Refused(409, { code: 'lab-locked', sentence: 'Another hub has this workspace open.' }))
    await page.goto(`${hub.address}/parts`)
    await page.getByText('Another hub has this workspace open.').waitFor()
    hub.replies.set('parts', { rows: [] })
    await page.getByRole('button', { name: 'Try again' }).click()
    await page.getByRole('heading', { name: 'No parts yet' }).waitFor()
  })

  test('a file is looked at first, its problems are listed with line and column, and a mended one is taken in and can be undone', async () => {
    const summary = { runs: 0, starts: 0, newParts: [], newSamples: [], newTunes: [], newWorkloads: [] }
    hub.replies.set('intakeSend', { taken: false, change: null, seenBefore: false, startsHere: 0, remarks: [], lines: 3, summary, problems: [{ line: 3, column: 'value', sentence: 'bad.csv, line 3, column value: "abc" is not a number. Write the number alone.' }], problemCount: 1, ...UNREAD })
    await page.goto(`${hub.address}/runs/take`)
    await page.setInputFiles('#runs-file', { name: 'bad.csv', mimeType: 'text/csv', buffer: Buffer.from('a,b\n1,2\n') })
    await page.getByText('"abc" is not a number. Write the number alone.').waitFor()
    expect(await page.locator('.ledger tbody tr').first().textContent()).toMatch(/^3value"abc"/)
    expect(hub.posted.filter(({ route }) => route === 'intakeSend').at(-1)).toMatchObject({ path: expect.stringMatching(/^\/api\/intake\/uploads\/[0-9a-f-]{36}\?file=bad\.csv/), body: 'a,b\n1,2\n' })

    const good = { taken: false, change: null, seenBefore: false, startsHere: 1, remarks: ['1 of 2 starts is here already (first.csv, change 2). Only the rest comes in.'], lines: 2, summary: { ...summary, runs: 2, starts: 1, newTunes: ['eco'] }, problems: [], problemCount: 0, ...UNREAD }
    hub.replies.set('intakeSend', good)
    hub.replies.set('intakeTake', { ...good, taken: true, change: 43 })
    hub.replies.set('intakeCancel', { cancelled: false })
    hub.replies.set('undo', { change: 44 })
    await page.setInputFiles('#runs-file', { name: 'good.csv', mimeType: 'text/csv', buffer: Buffer.from('a,b\n1,2\n') })
    await page.getByText('1 of 2 starts is here already (first.csv, change 2). Only the rest comes in.').waitFor()
    await page.getByRole('button', { name: 'Take in 2 runs' }).click()
    await page.getByRole('button', { name: 'Undo' }).click()
    await page.getByText('Taken back.').waitFor()
    expect(hub.posted.at(-1)?.path).toBe('/api/changes/43/undo')
  })

  test('a file above the limit is refused before a byte of it is sent, and a smaller one after it is looked at', async () => {
    hub.replies.set('intakeSend', { taken: false, change: null, seenBefore: true, startsHere: 1, remarks: [], lines: 1, summary: { runs: 0, starts: 0, newParts: [], newSamples: [], newTunes: [], newWorkloads: [] }, problems: [], problemCount: 0, ...UNREAD })
    await page.goto(`${hub.address}/runs/take`)
    const large = join(dist, 'night.csv')
    await writeFile(large, Buffer.alloc(INTAKE_LIMIT + 1, 'a'))
    await page.setInputFiles('#runs-file', large)
    await page.getByText('night.csv has 50.1 MB; at most 50.0 MB can be taken in at once.').waitFor()
    expect(hub.posted).toEqual([])
    await page.setInputFiles('#runs-file', { name: 'day.csv', mimeType: 'text/csv', buffer: Buffer.from('a,b\n1,2\n') })
    await page.getByText('was taken in before').waitFor()
    expect(await page.getByText('night.csv has').count()).toBe(0)
  })

  test('behind a caution stand the runs of its starts, page by page; where a start has none, the page says so', async () => {
    const caution = { code: 'unverified', severity: 'warns', title: 'In force not verified', text: 'Nothing shows it.' }
    const starts = [...new Set(RUNS.map((run) => run.startId))]
    const answer = (records: readonly string[]) => ({ state: 'ready', answer: { ...ANSWER, cautions: [{ ...caution, records }] } })
    hub.replies.set('answer', answer(starts.slice(0, 2)))
    await page.goto(hub.address + answerPath)
    await page.getByRole('link', { name: 'See 2 records behind: In force not verified' }).click()
    await page.getByText('Runs behind the caution "In force not verified".').waitFor()
    await expect.poll(() => page.locator('.ledger tbody tr.run').count()).toBe(RUNS.filter((run) => starts.slice(0, 2).includes(run.startId)).length)

    hub.replies.set('answer', answer(starts))
    await page.reload()
    await page.getByRole('link', { name: 'Next 100' }).click()
    await page.getByText(`101-${RUNS.length} of ${RUNS.length}`).waitFor()
    await expect.poll(() => page.locator('.ledger tbody tr.run').count()).toBe(RUNS.length - 100)

    hub.replies.set('answer', answer(['0190a000-0000-7000-8000-000000000999']))
    await page.goto(`${hub.address}/runs?of=${QUESTION_ID}&caution=unverified`)
    await page.getByText('1 start without a run: nothing was measured there.').waitFor()
  })

  test('runs are chosen and set aside with keys alone, together and only with a reason', async () => {
    hub.replies.set('keepRuns', { change: 43, runs: 3 })
    await page.goto(`${hub.address}/runs`)
    const first = page.locator('input[data-run]').first()
    await first.focus()
    await page.keyboard.press('Space')
    await page.keyboard.press('ArrowDown')
    await page.keyboard.press('ArrowDown')
    await page.keyboard.press('Shift+ArrowDown')
    await page.getByText('3 runs chosen, 1 of them set aside.').waitFor()
    await page.getByRole('button', { name: 'Set 2 runs aside' }).click()
    await page.locator('dialog').getByRole('button', { name: 'Set aside' }).click()
    expect(hub.posted).toEqual([])
    await page.getByLabel('Why, for all of them').fill('window was open')
    await page.locator('dialog').getByRole('button', { name: 'Set aside' }).click()
    await page.locator('dialog').waitFor({ state: 'detached' })
    expect(hub.posted[0]?.route).toBe('keepRuns')
    expect(JSON.parse(hub.posted[0]?.body ?? '')).toEqual({ act: 'set aside', ids: [RUNS[0]?.id, RUNS[2]?.id], reason: 'window was open' })
  })

  test('in the list of runs the arrows lead on to the next page and back, and Enter opens the run', async () => {
    await page.goto(`${hub.address}/runs`)
    await page.locator('input[data-run]').first().focus()
    await page.keyboard.press('End')
    await page.keyboard.press('ArrowDown')
    await page.waitForURL(/from=100/)
    await page.getByText(`101-${RUNS.length} of ${RUNS.length}`).waitFor()
    const focused = (): Promise<string | null> => page.evaluate(() => document.activeElement?.getAttribute('data-run') ?? null)
    await expect.poll(focused).toBe(RUNS[100]?.id)
    await page.keyboard.press('ArrowUp')
    await expect.poll(focused).toBe(RUNS[99]?.id)
    await page.keyboard.press('Enter')
    await page.waitForURL((url) => url.pathname === `/runs/${RUNS[99]?.id}`)
  })

  test('a mistyped value is corrected in one change that says from what to what, and not without a reason', async () => {
    hub.replies.set('apply', { change: 43 })
    await page.goto(`${hub.address}/runs/${RUNS[0]?.id}`)
    await page.getByRole('button', { name: 'Correct it' }).click()
    const dialog = page.locator('dialog')
    await dialog.getByRole('button', { name: 'Correct it' }).click()
    await dialog.getByText('Nothing has been changed yet.').waitFor()
    await dialog.getByLabel('score, points').fill('1843,25')
    await dialog.getByText(/^Say why/).waitFor()
    await dialog.getByLabel('Why').fill('two digits swapped')
    await dialog.getByRole('button', { name: 'Correct it' }).click()
    await dialog.waitFor({ state: 'detached' })
    const sent = JSON.parse(hub.posted[0]?.body ?? '') as { what: string; why: string; items: { before: { measures: unknown }; after: { measures: unknown } }[] }
    expect(sent.what).toContain('score 1834.25 points to 1843.25 points')
    expect(sent.why).toBe('two digits swapped')
    expect(sent.items.map(({ before, after }) => [before.measures, after.measures])).toEqual([[[{ name: 'score', value: 1834.25 }], [{ name: 'score', value: 1843.25 }]]])
  })

  test("a start's conditions are corrected afterwards, what was not touched stays as it was", async () => {
    hub.replies.set('apply', { change: 43 })
    await page.goto(`${hub.address}/starts/0190a000-0000-7000-8000-000000000200`)
    await page.getByRole('button', { name: 'Correct conditions or training' }).click()
    const dialog = page.locator('dialog')
    await dialog.getByLabel('Cooling').fill('Burrow 120')
    await dialog.getByLabel('Why').fill('forgotten')
    await dialog.getByRole('button', { name: 'Correct it' }).click()
    await dialog.waitFor({ state: 'detached' })
    const sent = JSON.parse(hub.posted[0]?.body ?? '') as { what: string; items: { before: object; after: object }[] }
    expect(sent.what).toBe('Corrected start 1: cooling not recorded to Burrow 120')
    expect(sent.items[0]?.after).toEqual({ ...sent.items[0]?.before, conditions: { firmware: '1.12', ambient: 21.5, cooling: 'Burrow 120' } })
  })

  test('a suite shows weights as shares while they are typed, and keeps the order of its rows', async () => {
    hub.replies.set('apply', { change: 43 })
    await page.goto(`${hub.address}/lab/suites`)
    await page.getByRole('button', { name: 'Change house suite' }).click()
    const dialog = page.locator('dialog')
    await dialog.getByLabel('Weight').first().fill('5')
    await expect.poll(() => dialog.locator('.share .figure').allTextContents()).toEqual(['50.0 %', '10.0 %', '10.0 %', '10.0 %', '10.0 %', '10.0 %'])
    await dialog.getByRole('button', { name: 'Run workload 2 one place earlier' }).click()
    await dialog.getByLabel('Weight').last().fill('none')
    await dialog.getByRole('button', { name: 'Keep' }).click()
    await dialog.getByText('must be a figure; got "none".').waitFor()
    await dialog.getByLabel('Weight').last().fill('2')
    await dialog.getByRole('button', { name: 'Keep' }).click()
    await dialog.waitFor({ state: 'detached' })
    const sent = JSON.parse(hub.posted[0]?.body ?? '') as { items: { after: { items: { weight: number }[] } }[] }
    expect(sent.items[0]?.after.items.map(({ weight }) => weight)).toEqual([1, 5, 1, 1, 1, 2])
  })

  test('a saved picture carries sentence, scope, basis, band, lab and "simulated"; as PNG it is drawn under the content policy', async () => {
    await page.goto(hub.address + answerPath)
    const save = async (name: string): Promise<Buffer> => {
      const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name }).click()])
      return readFile(await download.path())
    }
    const svg = (await save('Save as SVG')).toString('utf8')
    const words = svg.replace(/<style>.*?<\/style>/s, '').replace(/<[^>]+>/g, ' ').replace(/\s+/g, ' ')
    for (const wanted of ['Quillon 14R is faster than Quillon 14', 'these samples', '12 starts', 'too small to matter', 'Hollin &amp; Pike', 'simulated']) expect(words).toContain(wanted)
    const png = await save('Save as PNG')
    expect(png.subarray(1, 4).toString('latin1')).toBe('PNG')
    expect(png.readUInt32BE(16)).toBeGreaterThan(1500)
    expect(opened.complaints).toEqual([])
  })

  test('the theme that a person chooses holds after a reload', async () => {
    await page.goto(hub.address)
    await page.getByRole('radio', { name: 'dark' }).check()
    await page.reload()
    await page.locator('h1').waitFor()
    expect(await page.evaluate(() => document.documentElement.dataset['theme'])).toBe('dark')
  })

  test('a workspace of their own is asked for with name and currency', async () => {
    const { lab } = (await import('./fixtures/lab.ts')).EMPTY
    hub.replies.set('newLab', lab as object)
    await page.goto(hub.address)
    await page.getByRole('button', { name: 'Start a workspace of my own' }).click()
    await page.getByLabel('Name of the lab').fill('Dune lab')
    await page.getByLabel('Currency, as you write it').fill('EUR')
    await page.getByRole('button', { name: 'Start it' }).click()
    await page.locator('dialog').waitFor({ state: 'detached' })
    expect(JSON.parse(hub.posted[0]?.body ?? '')).toEqual({ name: 'Dune lab', currency: 'EUR' })
  })
})

const UNREAD = { questions: [], lineCount: { all: 0, head: 0, blank: 0, taken: 0, leftOut: 0, rejected: 0 }, leftOut: [], reading: null, booked: [] }
