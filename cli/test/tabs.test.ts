// Many tabs, the back button's kept pages, and a switch of workspace, with the real hub: the page in front is always alive and shows the workspace it says.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, BrowserContext } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { startHub, type Hub } from '@guardband/hub'
import { createLab } from '@guardband/lab'
import { DEMO_LAB, demoRecords } from '@guardband/simlab/demo'
import { buildPage, CHROMIUM, hubSources, realSources, startBrowser } from './real-page.ts'

describe.skipIf(CHROMIUM === '')('tabs on the real hub (skipped where no Chromium is found)', () => {
  const folder = mkdtempSync(join(tmpdir(), 'guardband-tabs-'))
    let browser: Browser
  let hub: Hub
  let context: BrowserContext

  beforeAll(async () => {
    await buildPage(join(folder, 'page'))
    hub = await startHub({
      lab: createLab(join(folder, 'demo'), { ...DEMO_LAB, who: 'simulated bench', records: demoRecords() }, realSources),
      host: '127.0.0.1', port: 0, webFolder: join(folder, 'page'), who: 'Ada', sources: hubSources,
      createOwnLab: async ({ name, currency }) => createLab(join(folder, 'own'), { name, currency }, realSources),
    })
    // The driver turns the kept pages of the back button off unless told not to.
    browser = await startBrowser({ ignoreDefaultArgs: ['--disable-back-forward-cache'] })
    context = await browser.newContext()
    const door = await context.newPage()
    await door.goto(hub.url)
    await door.locator('h1').waitFor()
    await door.close()
  }, 120_000)

  afterAll(async () => {
    await browser?.close()
    await hub?.close()
    rmSync(folder, { recursive: true, force: true })
  })

  it('a tenth page load in one tab still comes', { timeout: 60_000 }, async () => {
    const page = await context.newPage()
    for (const path of ['/', '/parts', '/tunes', '/runs', '/questions', '/reports', '/rigs', '/lab', '/', '/parts']) {
      await page.goto(new URL(path, hub.url).href)
      await page.locator('h1').waitFor({ timeout: 10_000 })
      await page.locator('.waiting').first().waitFor({ state: 'detached', timeout: 10_000 })
    }
    // A kept page comes back without a load event.
    await page.goBack({ waitUntil: 'commit', timeout: 5000 }).catch(() => undefined)
    await page.waitForURL((url) => url.pathname === '/', { waitUntil: 'commit', timeout: 10_000 })
    await page.locator('h1').waitFor({ timeout: 10_000 })
    await page.close()
  })

  it('a workspace of one’s own is what the page then shows', { timeout: 60_000 }, async () => {
    const page = await context.newPage()
    await page.goto(new URL('/', hub.url).href)
    await page.getByText('simulated', { exact: true }).first().waitFor()
    await page.getByRole('button', { name: 'Start a workspace of my own' }).first().click()
    await page.getByRole('dialog').getByRole('textbox').first().fill('South Quay bench')
    await page.getByRole('dialog').getByRole('button').filter({ hasText: /start|make|begin/i }).first().click()
    await page.getByText('South Quay bench').first().waitFor({ timeout: 10_000 })
    await page.getByText('Hollin & Pike').first().waitFor({ state: 'detached', timeout: 10_000 })
    expect(await page.getByText('simulated', { exact: true }).count()).toBe(0)
    await page.close()
  })
})
