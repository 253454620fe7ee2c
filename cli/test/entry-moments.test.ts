// The awkward moments of entering by hand, on the real hub: a slip, a step back, a hub that falls silent, a reload, a second tab, a sample that may not be started.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, BrowserContext, Page } from 'playwright-core'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest'
import { startHub, type Hub } from '@guardband/hub'
import { createLab, type Lab } from '@guardband/lab'
import type { RecordOf } from '@guardband/model'
import { dayLab, type DayLab } from './entry-day.ts'
import { buildPage, CHROMIUM, hubSources, realSources, startBrowser } from './real-page.ts'

const allSaved = (at: Page): Promise<void> => at.getByText('Everything entered is saved.').waitFor()
const shown = (at: Page, cell: string): Promise<string> => at.locator(`[data-cell="${cell}"] input`).first().inputValue()

describe.skipIf(CHROMIUM === '')('moments at the entry grid (skipped where no Chromium is found)', () => {
  const folder = mkdtempSync(join(tmpdir(), 'guardband-moments-'))
    const day: DayLab = dayLab(realSources.newId)
  let browser: Browser
  let hub: Hub
  let lab: Lab
  let context: BrowserContext
  let page: Page
  let address: string
  let startId: string

  beforeAll(async () => {
    await buildPage(join(folder, 'page'))
    lab = createLab(join(folder, 'lab'), { name: 'Hollin & Pike', currency: 'EUR', simulated: true, who: 'simulated bench', records: [...day.records] }, realSources)
    hub = await startHub({
      lab, host: '127.0.0.1', port: 0, webFolder: join(folder, 'page'), who: 'Ada', sources: hubSources,
      createOwnLab: async ({ name, currency }) => createLab(join(folder, 'own'), { name, currency }, realSources),
    })
    browser = await startBrowser()
    context = await browser.newContext()
    const door = await context.newPage()
    await door.goto(hub.url)
    await door.locator('h1').waitFor()
    await door.close()
  }, 120_000)

  /** A sheet of its own for each test, with the second processor, which must be put in. */
  beforeEach(async () => {
    const [rig] = day.records.filter((record) => record.kind === 'rig')
    startId = realSources.newId()
    const starts = [startId, realSources.newId()].map((id) => ({ startId: id, tuneId: day.tunes[0], how: 'cold' as const, slots: [{ slot: 'processor' as const, sampleId: day.samples[1] }] }))
    const sheet: RecordOf<'sheet'> = { kind: 'sheet', id: realSources.newId(), name: 'a morning', rigId: rig.id, at: '2026-11-03T08:00:00Z', workloadIds: day.workloads.slice(1, 4).map(({ id }) => id), repeats: 2, conditions: {}, starts }
    lab.apply({ who: 'test', what: 'a sheet', items: [{ before: null, after: sheet }] })
    address = new URL(`/runs/enter?sheet=${sheet.id}&start=${startId}`, hub.url).href
    page = await atSheet()
  })

  afterEach(async () => {
    for (const open of context.pages()) await open.close()
  })

  afterAll(async () => {
    await browser?.close()
    await hub?.close()
    rmSync(folder, { recursive: true, force: true })
  })

  async function atSheet(): Promise<Page> {
    const opened = await context.newPage()
    opened.on('dialog', (dialog) => void dialog.accept())
    await opened.goto(address)
    await opened.locator('[data-cell="0-0"] input').and(opened.locator(':focus')).waitFor()
    return opened
  }

  function onDisk(): readonly (readonly [string, number | undefined])[] {
    const runs = lab.ofStart(startId).filter((record) => record.kind === 'run')
    return runs.toSorted((a, b) => a.order - b.order).map(({ outcome, measures }) => [outcome, measures[0]?.value])
  }

  it('a step back is a change of its own, and the cell is empty again', async () => {
    const before = lab.head()
    await type(page, '61.4', 'Enter', 'h', 'u')
    await allSaved(page)
    await page.getByText('Taken back: Entered photo stack, repeat 1: hung').waitFor()
    expect([lab.head() - before, onDisk(), lab.changes({ count: 1 })[0].undoes]).toEqual([3, [['scored', 61.4]], before + 2])
    expect(await shown(page, '0-0')).toBe('61.4')
    await page.locator('[data-cell="1-0"] input').and(page.locator(':focus')).waitFor()
  })

  it('a correction changes the run and leaves it in its place', async () => {
    await type(page, '61.4', 'Enter', '40.9', 'Enter', 'ArrowUp', 'ArrowUp', '60.4', 'Enter')
    await allSaved(page)
    expect(onDisk()).toEqual([['scored', 60.4], ['scored', 40.9]])
  })

  it('what is in force changed between two runs parts them', async () => {
    await type(page, '61.4', 'Enter', 'i')
    await page.getByRole('dialog').waitFor()
    await type(page, 'Enter')
    await page.getByRole('dialog').waitFor({ state: 'detached' })
    await type(page, '40.9', 'Enter')
    await allSaved(page)
    const held = lab.ofStart(startId)
    const tunes = new Map(held.flatMap((record) => (record.kind === 'in force' ? [[record.id, record.tuneId] as const] : [])))
    expect(held.flatMap((record) => (record.kind === 'run' ? [tunes.get(record.inForceId)] : []))).toEqual([day.tunes[0], day.tunes[1]])
    await page.locator('[data-cell="1-0"]').getByText('at quiet 95 W').waitFor()
  })

  it('through a silent hub and a reload every entry is kept, told as not saved, and made once', { timeout: 60_000 }, async () => {
    await type(page, '61.4', 'Enter')
    await allSaved(page)
    await context.route('**/api/changes', (route) => (route.request().method() === 'POST' ? route.abort() : route.continue()))
    await type(page, '40.9', 'Enter', '153', 'Enter')
    await page.getByText('2 entries not yet saved').waitFor()
    await page.locator('[data-cell="1-0"].cell-on-its-way').waitFor()
    expect(onDisk()).toEqual([['scored', 61.4]])
    await page.reload()
    await page.locator('[data-cell="2-0"].cell-on-its-way').waitFor()
    expect([await shown(page, '1-0'), await shown(page, '2-0')]).toEqual(['40.9', '153'])
    await context.unroute('**/api/changes')
    await allSaved(page)
    expect(onDisk()).toEqual([['scored', 61.4], ['scored', 40.9], ['scored', 153]])
  })

  it('a lost reply makes nothing twice', { timeout: 60_000 }, async () => {
    let lost = 0
    await context.route('**/api/changes', async (route) => {
      if (route.request().method() === 'POST' && lost < 2) {
        lost += 1
        // The hub makes the change; its reply never arrives.
        await route.fetch()
        await route.abort()
      } else await route.continue()
    })
    await type(page, '61.4', 'Enter', '40.9', 'Enter')
    await allSaved(page)
    await context.unroute('**/api/changes')
    expect([lost, onDisk()]).toEqual([2, [['scored', 61.4], ['scored', 40.9]]])
  })

  it('a reload shows exactly what is on disk, in the same start', async () => {
    await type(page, '61.4', 'Enter', 'h', '153')
    await allSaved(page)
    await page.reload()
    await page.locator('[data-cell="0-0"].cell-saved').waitFor()
    expect([await shown(page, '0-0'), await shown(page, '1-0'), await shown(page, '2-0')]).toEqual(['61.4', '', ''])
    await page.locator('[data-cell="1-0"]').getByText('hung').waitFor()
    expect(page.url()).toBe(address)
  })

  it('two tabs on one sheet see each other, and nothing is entered twice', async () => {
    const other = await atSheet()
    await page.bringToFront()
    await type(page, '61.4', 'Enter')
    await other.bringToFront()
    await other.locator('[data-cell="0-0"].cell-saved').waitFor()
    await other.locator('[data-cell="1-0"] input').focus()
    await type(other, '40.9', 'Enter')
    await page.bringToFront()
    await page.locator('[data-cell="1-0"].cell-saved').waitFor()
    expect(onDisk()).toEqual([['scored', 61.4], ['scored', 40.9]])
  })

  it('a start that the hub refuses says why at its cell, holds back what builds on it, and goes through when it may', { timeout: 60_000 }, async () => {
    const sample = lab.get(day.samples[1])
    if (sample?.kind !== 'sample') throw new Error('the sample must be there')
    const wet = { ...sample, status: 'wet' as const }
    lab.apply({ who: 'test', what: 'spilt', items: [{ before: sample, after: wet }] })
    await type(page, '61.4', 'Enter', '40.9', 'Enter')
    await page.locator('[data-cell="0-0"].cell-refused').waitFor()
    await page.locator('[data-cell="1-0"].cell-held').waitFor()
    expect(await page.locator('p.cell-refused').innerText()).toMatch(/wet/)
    expect(onDisk()).toEqual([])
    const dried = { ...wet, status: 'bench' as const, inspections: [{ at: new Date().toISOString(), by: 'Ada', dry: true, found: 'dry and sound' }] }
    lab.apply({ who: 'test', what: 'dried', items: [{ before: wet, after: dried }] })
    await page.getByRole('button', { name: 'Send it again' }).click()
    await allSaved(page)
    expect(onDisk()).toEqual([['scored', 61.4], ['scored', 40.9]])
  })

  // Last, since what it enters is what the workload usually reads from then on.
  it('a figure ten times off waits for a word, and the ones after it go on', async () => {
    await type(page, '61.4', 'Enter', '40.9', 'Enter', '153', 'Enter', '614', 'Enter', '41', 'Enter')
    await page.getByText('614 s is about 10 times what it usually reads, 61.4 s.').waitFor()
    await page.getByText(/^1 figure questioned, not saved\.$/).waitFor()
    expect(onDisk()).toEqual([['scored', 61.4], ['scored', 40.9], ['scored', 153], ['scored', 41]])
    await type(page, 'y')
    await page.locator('.cell-asked').waitFor({ state: 'detached' })
    await allSaved(page)
    expect(onDisk().at(-1)).toEqual(['scored', 614])
  })
})

async function type(at: Page, ...keys: readonly string[]): Promise<void> {
  for (const key of keys) await (/^[\d.,]+$/.test(key) ? at.keyboard.type(key) : at.keyboard.press(key))
}
