// Pages in the states of a made-up hub, in a real browser, light, dark and narrow: nothing to object to for axe, the console or the content policy.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { AxeBuilder } from '@axe-core/playwright'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { buildPage, CHROMIUM, openPage, startBrowser, type Look } from './browser.ts'
import { QUESTION_ID, STOPPED_ID } from './fixtures/answer.ts'
import { EMPTY, FULL, HOSTILE_NAME, RUNS } from './fixtures/lab.ts'
import { PART_ID, SAMPLE_WET } from './fixtures/parts.ts'
import { startHubDouble, type HubDouble } from './hub-double.ts'

/** States that the demo doesn't come to; cli/test/every-page.test.ts opens every page on the real hub. */
const PAGES = [
  '/', '/parts?status=quarantined', `/parts/${PART_ID}`, `/parts/${PART_ID}?enter=tray`, `/samples/${SAMPLE_WET}`, `/questions/${QUESTION_ID}`, `/questions/${QUESTION_ID}?scope=like`, `/questions/${STOPPED_ID}`,
  '/rigs', `/runs/${RUNS[4]?.id}`, '/starts/0190a000-0000-7000-8000-000000000200', '/find?q=quillon&kind=sample', '/nowhere',
]
/** Each width and each theme once; cli/test/every-page.test.ts crosses them. */
const LOOKS: readonly Look[] = [
  { width: 1440, scheme: 'light' },
  { width: 390, scheme: 'dark' },
]

describe.skipIf(CHROMIUM === '')('pages in a browser (skipped where no Chromium is found)', () => {
  let browser: Browser
  let dist: string
  let full: HubDouble
  let empty: HubDouble

  beforeAll(async () => {
    dist = await mkdtemp(join(tmpdir(), 'guardband-web-'))
    await buildPage(dist)
    full = await startHubDouble(dist, FULL)
    empty = await startHubDouble(dist, EMPTY)
    browser = await startBrowser()
  }, 120_000)

  afterAll(async () => {
    await browser?.close()
    await full?.close()
    await empty?.close()
    if (dist !== undefined) await rm(dist, { recursive: true, force: true })
  })

  for (const look of LOOKS) {
    test(`no page gives axe, the console or the content policy cause for complaint: ${look.scheme}, ${look.width} px`, { timeout: 180_000 }, async () => {
      const { context, page, complaints } = await openPage(browser, look)
      const found: string[] = []
      for (const hub of [full, empty]) {
        for (const path of PAGES) {
          if (hub === empty && /^\/(questions|runs|starts|parts|samples)\/0/.test(path)) continue
          await page.goto(hub.address + path)
          await page.locator('h1').waitFor()
          await page.waitForFunction(() => document.querySelector('.waiting') === null && document.fonts.status === 'loaded')
          const { violations } = await new AxeBuilder({ page }).analyze()
          found.push(...violations.map((violation) => `${path}: ${violation.id} at ${violation.nodes.map((node) => `${node.target.join(' ')} ${node.failureSummary ?? ''}`).slice(0, 2).join(', ')}`))
          const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
          if (over > 0) found.push(`${path}: ${over} px wider than the window`)
        }
      }
      await context.close()
      expect(found).toEqual([])
      expect(complaints).toEqual([])
    })
  }

  test('an address restores its page after a reload, with scope and filters', async () => {
    const { context, page } = await openPage(browser)
    await page.goto(`${full.address}/questions/${QUESTION_ID}`)
    await page.getByRole('radio', { name: 'samples like these' }).check()
    await page.waitForURL(/scope=like/)
    await page.reload()
    await expect.poll(() => page.getByRole('radio', { name: 'samples like these' }).isChecked()).toBe(true)
    expect(await page.locator('h1').textContent()).toContain('how much is unclear')

    await page.goto(`${full.address}/runs`)
    await page.getByLabel('Outcome').selectOption('failed')
    await page.locator('main').getByLabel('Find').fill('south')
    await page.waitForURL(/find=south/)
    await page.reload()
    expect(await page.locator('main').getByLabel('Find').inputValue()).toBe('south')
    expect(await page.getByLabel('Outcome').inputValue()).toBe('failed')
    await page.getByText(/runs found\./).waitFor()
    const outcomes = await page.locator('.outcome').allTextContents()
    expect(outcomes.length).toBeGreaterThan(0)
    expect(new Set(outcomes.map((text) => text.trim()))).toEqual(new Set(['fallback start']))
    await context.close()
  })

  test('the scope, the saving buttons, the sources and the runs behind a caution of an answer are reached by keyboard alone', async () => {
    const { context, page } = await openPage(browser)
    await page.goto(`${full.address}/questions/${QUESTION_ID}`)
    await page.locator('.picture').waitFor()
    const reached: string[] = []
    for (let step = 0; step < 40; step++) {
      await page.keyboard.press('Tab')
      const at = await page.evaluate(() => {
        const element = document.activeElement
        if (element === null || element === document.body) return null
        // A hidden radio shows its ring on the words beside it.
        const rings = [element, element.nextElementSibling].flatMap((near) => (near === null ? [] : [getComputedStyle(near).outlineStyle]))
        return { text: element.getAttribute('aria-label') ?? (element.textContent || element.getAttribute('name')) ?? '', ring: rings.find((style) => style !== 'none') ?? 'none' }
      })
      if (at === null) break
      reached.push(at.text.trim())
      expect({ at: at.text, ring: at.ring }).not.toEqual({ at: at.text, ring: 'none' })
    }
    for (const wanted of ['To the content', 'Bench', 'scope', 'Save as SVG', 'Save as PNG', 'Save as CSV', 'Copy link', 'Publish a report', 'See 2 records behind: 6 runs failed', 'Method and sources']) {
      expect(reached).toContain(wanted)
    }
    await page.getByRole('radio', { name: 'these samples', exact: true }).focus()
    await page.keyboard.press('ArrowRight')
    await page.waitForURL(/scope=like/)
    await context.close()
  })

  test('markup in the name of a part is shown as text and never runs', async () => {
    const { context, page } = await openPage(browser)
    await page.goto(`${full.address}/parts`)
    await page.getByRole('heading', { name: HOSTILE_NAME }).waitFor()
    expect(await page.evaluate(() => 'ran' in window)).toBe(false)
    expect(await page.locator('main img, main script').count()).toBe(0)
    await context.close()
  })

  test('a picture is laid out anew for a narrow window: no wider than it, and its labels above the bars', async () => {
    const { context, page } = await openPage(browser)
    await page.goto(`${full.address}/questions/${QUESTION_ID}`)
    await page.locator('.picture.wide').waitFor()
    await page.setViewportSize({ width: 390, height: 844 })
    await page.locator('.picture.narrow').waitFor()
    expect((await page.locator('.picture').boundingBox())?.width).toBeLessThan(390)
    await context.close()
  })
})
