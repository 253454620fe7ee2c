// The shelf of pictures and files, and the page that keeps and moves, in a browser on the real hub: everything a person does there by hand, looked at on disk.
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { AxeBuilder } from '@axe-core/playwright'
import type { Browser, BrowserContext, Locator, Page } from 'playwright-core'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest'
import { startHub, type Hub } from '@guardband/hub'
import { createLab, importFile, openLab, type Lab } from '@guardband/lab'
import { sha256Hex, type Evidence } from '@guardband/model'
import { openExported } from '../open-exported.ts'
import { systemTerminal } from '../terminal.ts'
import { dayLab, type DayLab } from './entry-day.ts'
import { buildPage, CHROMIUM, hubSources, realSources, startBrowser } from './real-page.ts'

/** One red pixel, as a PNG. */
const PICTURE = Buffer.from('iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mP8z8BQDwAEhQGAhKmMIQAAAABJRU5ErkJggg==', 'base64')

describe.skipIf(CHROMIUM === '')('keeping by hand (skipped where no Chromium is found)', () => {
  const folder = mkdtempSync(join(tmpdir(), 'guardband-keep-'))
  const own = join(folder, 'own')
    const day: DayLab = dayLab(realSources.newId)
  let browser: Browser
  let hub: Hub
  let lab: Lab
  let context: BrowserContext
  let page: Page

  beforeAll(async () => {
    await buildPage(join(folder, 'page'))
    browser = await startBrowser()
  }, 120_000)

  beforeEach(async () => {
    rmSync(join(folder, 'lab'), { recursive: true, force: true })
    lab = createLab(join(folder, 'lab'), { name: 'Hollin & Pike', currency: 'EUR', simulated: true, who: 'simulated bench', records: [...day.records] }, realSources)
    const terminal = { ...systemTerminal(process), who: 'Ada' }
    hub = await startHub({
      lab, host: '127.0.0.1', port: 0, webFolder: join(folder, 'page'), who: 'Ada', sources: hubSources,
      createOwnLab: async ({ name, currency }) => createLab(join(own, name), { name, currency }, realSources),
      openExported: (input) => openExported(terminal, own, input),
    })
    context = await browser.newContext({ acceptDownloads: true })
    page = await context.newPage()
    await page.goto(hub.url)
    await page.locator('h1').waitFor()
  }, 60_000)

  afterEach(async () => {
    await context.close()
    await hub.close()
  }, 60_000)

  afterAll(async () => {
    await browser?.close()
    rmSync(folder, { recursive: true, force: true })
  })

  const sample = (): string => day.samples[0] ?? ''
  const kept = (): readonly Evidence[] => lab.evidence.about(sample())
  const names = (): readonly string[] => kept().map(({ name }) => name)
  async function atShelf(): Promise<Locator> {
    await page.goto(new URL(`/samples/${sample()}`, hub.url).href)
    const shelf = page.getByRole('region', { name: 'Pictures and files' })
    await shelf.getByRole('button', { name: 'Add files' }).waitFor()
    return shelf
  }
  async function atKeep(): Promise<void> {
    await page.goto(new URL('/lab/keep', hub.url).href)
    await page.getByRole('heading', { name: 'A workspace from a file' }).waitFor()
  }

  describe('the shelf', { timeout: 60_000 }, () => {
    it('keeps what is chosen, dropped and pasted, each under its hash', async () => {
      const shelf = await atShelf()
      await shelf.getByLabel('Files to keep here').setInputFiles([{ name: 'lid.png', mimeType: 'image/png', buffer: PICTURE }, { name: 'log.txt', mimeType: 'text/plain', buffer: Buffer.from('a line') }])
      await expect.poll(names).toEqual(['lid.png', 'log.txt'])
      await hand(page, 'drop', '.shelf', { name: 'dropped.csv', type: 'text/csv', text: 'a,b' })
      await expect.poll(names).toEqual(['lid.png', 'log.txt', 'dropped.csv'])
      await shelf.getByRole('button', { name: 'Add files' }).focus()
      await hand(page, 'paste', 'body', { name: 'image.png', type: 'image/png', text: 'no picture at all' })
      await expect.poll(names).toEqual(['lid.png', 'log.txt', 'dropped.csv', expect.stringMatching(/^pasted \d{4}-\d\d-\d\d .*\.png$/)])
      for (const { sha256, bytes } of kept()) {
        const onDisk = readFileSync(join(lab.folder, 'evidence', sha256))
        expect([sha256Hex(onDisk), onDisk.length]).toEqual([sha256, bytes])
      }
      expect(lab.check()).toEqual([])
    })

    it('sends again what a broken connection cut off, and keeps it once', async () => {
      const shelf = await atShelf()
      await page.route('**/api/evidence?*', (route) => (route.request().method() === 'POST' ? route.abort() : route.continue()))
      await shelf.getByLabel('Files to keep here').setInputFiles({ name: 'log.txt', mimeType: 'text/plain', buffer: Buffer.from('a line') })
      await shelf.getByText('was not kept').waitFor()
      expect(names()).toEqual([])
      await page.unroute('**/api/evidence?*')
      await shelf.getByRole('button', { name: 'Send it again' }).click()
      await expect.poll(names).toEqual(['log.txt'])
      await shelf.getByText('was not kept').waitFor({ state: 'detached' })
    })

    it('takes off and puts back; the file stays on disk all the while', async () => {
      const shelf = await atShelf()
      await shelf.getByLabel('Files to keep here').setInputFiles({ name: 'lid.png', mimeType: 'image/png', buffer: PICTURE })
      await expect.poll(names).toEqual(['lid.png'])
      const [{ sha256 } = { sha256: '' }] = kept()
      await shelf.getByRole('button', { name: 'Take off' }).click()
      await shelf.getByText('was taken off').waitFor()
      expect([names(), existsSync(join(lab.folder, 'evidence', sha256))]).toEqual([[], true])
      await shelf.getByRole('button', { name: 'Put it back' }).click()
      await expect.poll(names).toEqual(['lid.png'])
      expect((await new AxeBuilder({ page }).include('.shelf').analyze()).violations).toEqual([])
      expect(lab.check()).toEqual([])
    })
  })

  describe('the page that keeps and moves', { timeout: 120_000 }, () => {
    it('makes a backup that opens as it is, and says since when there is one', async () => {
      await atKeep()
      await page.getByRole('heading', { name: 'This workspace has no backup yet.' }).waitFor()
      await page.getByRole('button', { name: 'Back it up now' }).click()
      await page.getByText('Copied, opened and compared').waitFor()
      const made = lab.moving.lastBackup()
      const copy = openLab(made?.folder ?? '', realSources)
      expect([copy.moving.digest(), copy.check()]).toEqual([lab.moving.digest(), []])
      await copy.close()
      await page.getByRole('heading', { name: /^Last backup: / }).waitFor()
      await page.getByRole('button', { name: 'Check it' }).click()
      await page.getByText('Nothing amiss.').waitFor()
    })

    it.each([['Archive (.zip)', 'archive'], ['Records as JSON', 'json'], ['Records as CSV (.zip)', 'csv']] as const)('%s is downloaded, and opened from the page it is the same workspace in a folder of its own', async (text, form) => {
      await atKeep()
      const digest = lab.moving.digest()
      const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', { name: text }).click()])
      const file = join(folder, `${form}-${download.suggestedFilename()}`)
      await download.saveAs(file)
      expect(download.suggestedFilename()).toMatch(/^Hollin & Pike (?:workspace|records)/)
      const into = join(folder, `taken-${form}`)
      expect((await importFile({ file, into, who: 'Ada' }, realSources)).digest).toBe(digest)
      await page.getByLabel('File from an export').setInputFiles(file)
      await page.waitForURL((url) => url.pathname === '/')
      const served = await page.evaluate(async () => (await (await fetch('/api/lab')).json()) as { readonly folder: string })
      expect(served.folder.startsWith(own)).toBe(true)
      expect(existsSync(join(lab.folder, 'lab.db'))).toBe(true)
      const other = openLab(served.folder, realSources)
      expect(other.moving.digest()).toBe(digest)
      await other.close()
    })

    it('refuses what no export made, and a cancelled one leaves no folder', async () => {
      await atKeep()
      const before = existsSync(own) ? readdirSync(own) : []
      await page.getByLabel('File from an export').setInputFiles({ name: 'runs.zip', mimeType: 'application/zip', buffer: Buffer.from('PK\u0003\u0004 and then nothing') })
      await page.getByText(/cut short or damaged/).waitFor()
      // Held back between page and hub, so that there is time to cancel it.
      await page.route('**/api/moving/open?*', () => undefined)
      await page.getByLabel('File from an export').setInputFiles({ name: 'lab.json', mimeType: 'application/json', buffer: Buffer.from('{}') })
      await page.getByRole('button', { name: 'Cancel' }).click()
      await page.getByText('Cancelled; no workspace was made of it.').waitFor()
      expect(existsSync(own) ? readdirSync(own) : []).toEqual(before)
      expect((await new AxeBuilder({ page }).analyze()).violations).toEqual([])
    })
  })
})

/** Drops or pastes a file as the browser does; nothing outside a browser can fill its clipboard with one. */
async function hand(page: Page, how: 'drop' | 'paste', at: string, file: { readonly name: string; readonly type: string; readonly text: string }): Promise<void> {
  await page.evaluate(`(${HAND_OVER})(${JSON.stringify({ what: how, at, ...file })})`)
}

/** As text: it runs in the page, and only there are these types known. */
const HAND_OVER = `({ what, at, name, type, text }) => {
  const carried = new DataTransfer()
  carried.items.add(new File([text], name, { type }))
  document.querySelector(at).dispatchEvent(what === 'drop' ? new DragEvent('drop', { dataTransfer: carried, bubbles: true, cancelable: true }) : new ClipboardEvent('paste', { clipboardData: carried, bubbles: true, cancelable: true }))
}`
