// Finding and looking back, by keyboard in a real browser: the rail's field, what was found, entries unfolded, histories.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { buildPage, CHROMIUM, openPage, startBrowser, type Watched } from './browser.ts'
import { FOUND } from './fixtures/history.ts'
import { RUNS } from './fixtures/lab.ts'
import { startHubDouble, type HubDouble } from './hub-double.ts'

describe.skipIf(CHROMIUM === '')('finding in a browser (skipped where no Chromium is found)', () => {
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
    expect(opened.complaints).toEqual([])
    await opened.context.close()
    await hub.close()
  })

  const focused = (): Promise<string> => page.evaluate(() => document.activeElement?.textContent ?? '')

  test('"/" leads to the field from anywhere but from a field, Enter to what was found, arrows through it, and Escape out', async () => {
    await page.goto(`${hub.address}/rigs`)
    await page.locator('h1').waitFor()
    await page.keyboard.press('/')
    await page.keyboard.type('a/b')
    expect(await page.getByRole('searchbox', { name: 'Find' }).inputValue()).toBe('a/b')
    await page.keyboard.press('Escape')
    expect(await page.evaluate(() => document.activeElement?.tagName)).toBe('BODY')
    await page.keyboard.press('/')
    await page.keyboard.type('q14')
    await page.keyboard.press('Enter')
    await page.waitForURL(/\/find\?q=q14$/)
    await page.getByRole('heading', { name: '11 records and 96 runs with “q14”.' }).waitFor()
    expect(await page.locator('.found h2').allTextContents()).toEqual(['Runs', 'Parts1', 'Samples1 of 9', 'Evidence1'])
    await page.keyboard.press('/')
    await page.keyboard.press('ArrowDown')
    await page.keyboard.press('ArrowDown')
    await page.keyboard.press('ArrowDown')
    expect(await focused()).toBe('Quillon 14 Q14-07serial HP-8841')
    await page.keyboard.press('ArrowUp')
    expect(await focused()).toBe('Quillon 14')
    expect(await page.locator('.found a').evaluateAll((links) => links.map((link) => link.getAttribute('href')))).toEqual([
      '/runs?find=q14', '/parts/0190a000-0000-7000-8000-000000000011', '/samples/0190a000-0000-7000-8000-000000000021', '/find?q=q14&kind=sample', '/samples/0190a000-0000-7000-8000-000000000021',
    ])
  })

  test('typing asks one search at a time, and ends with the words as they stand', async () => {
    const asked: string[] = []
    let open = 0
    let most = 0
    hub.replies.set('find', async ({ query }: { query: URLSearchParams }) => {
      asked.push(query.get('q') ?? '')
      most = Math.max(most, ++open)
      await new Promise((resolve) => setTimeout(resolve, SLOW_MS))
      open -= 1
      return FOUND
    })
    await page.goto(`${hub.address}/find`)
    await page.getByLabel('Words that must all stand in it').pressSequentially('quillon fourteen', { delay: 15 })
    await expect.poll(() => asked.at(-1)).toBe('quillon fourteen')
    await page.getByRole('heading', { name: /with “quillon fourteen”/ }).waitFor()
    expect(most).toBe(1)
    expect(asked.length).toBeLessThan('quillon fourteen'.length)
    expect(page.url()).toMatch(/\/find\?q=quillon(\+|%20)fourteen$/)
  })

  test('an entry of the change log unfolds to its records, page by page; the first can not be taken back, nor one that was', async () => {
    const asked: string[] = []
    await page.goto(`${hub.address}/lab/changes`)
    await page.getByText('undone by entry 41').waitFor()
    expect(await page.getByRole('button', { name: /^Undo entry/ }).evaluateAll((buttons) => buttons.map((button) => button.getAttribute('aria-label')?.slice(0, 13)))).toEqual(['Undo entry 42', 'Undo entry 41'])
    expect(asked).toEqual([])
    page.on('request', (request) => asked.push(request.url().slice(hub.address.length)))
    await page.getByText('12 records').nth(1).click()
    await page.getByText('sample "Q14-07"').waitFor()
    await page.getByText('1-50 of 120 records').waitFor()
    await page.getByRole('button', { name: 'Next 50' }).click()
    // The stream of events may have either read again.
    await expect.poll(() => [...new Set(asked)].filter((path) => path.startsWith('/api/changes/'))).toEqual(['/api/changes/40?from=0&count=50', '/api/changes/40?from=50&count=50'])
  })

  test('the history of a record says what stood there and what stands there now, as text', async () => {
    await page.goto(`${hub.address}/runs/${RUNS[0]?.id}`)
    const history = page.locator('.history')
    await history.getByText('Why: read off the lid').waitFor()
    expect((await history.locator('.differences li').allTextContents()).map((text) => text.replace(/\s+/g, ' '))).toEqual(['batch: week 31 \u2192 then week 32', 'serial: now <i>HP-8841</i>', 'note: none taken away', 'and 3 more fields'])
    await history.getByRole('button', { name: /^Earlier entries/ }).click()
  })
})

const SLOW_MS = 120
