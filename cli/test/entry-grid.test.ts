// A whole day of a launch comparison entered through the grid with the keyboard alone, on the real hub: counted key by key, then looked at in the lab record by record.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { startHub, type Hub } from '@guardband/hub'
import { createLab, type Lab } from '@guardband/lab'
import type { Outcome, Sheet } from '@guardband/model'
import { dayLab, endingOf, type DayLab } from './entry-day.ts'
import { buildPage, CHROMIUM, hubSources, realSources, startBrowser } from './real-page.ts'

const STARTS = 24
const RUNS = 384
/** Key presses beyond the digits of figures and their decimal marks. */
const MOST_PRESSES = 700

const LETTERS: Readonly<Partial<Record<Outcome, string>>> = { hung: 'h', 'program died': 'd', errors: 'e', 'machine reset': 'r', 'wrong result': 'w', 'device lost': 'l' }

describe.skipIf(CHROMIUM === '')('a day through the entry grid (skipped where no Chromium is found)', () => {
  const folder = mkdtempSync(join(tmpdir(), 'guardband-day-'))
    const day: DayLab = dayLab(realSources.newId)
  let browser: Browser
  let hub: Hub
  let lab: Lab
  let page: Page
  const pressed = { figures: 0, marks: 0, others: 0 }

  beforeAll(async () => {
    await buildPage(join(folder, 'page'))
    lab = createLab(join(folder, 'lab'), { name: 'Hollin & Pike', currency: 'EUR', simulated: true, who: 'simulated bench', records: [...day.records] }, realSources)
    hub = await startHub({
      lab, host: '127.0.0.1', port: 0, webFolder: join(folder, 'page'), who: 'Ada', sources: hubSources,
      createOwnLab: async ({ name, currency }) => createLab(join(folder, 'own'), { name, currency }, realSources),
    })
    browser = await startBrowser()
    page = await (await browser.newContext()).newPage()
    await page.goto(hub.url)
    await page.locator('h1').waitFor()
    await page.goto(new URL('/runs/enter', hub.url).href)
    await page.getByLabel('Name').waitFor()
  }, 120_000)

  afterAll(async () => {
    await browser?.close()
    await hub?.close()
    rmSync(folder, { recursive: true, force: true })
  })

  async function key(name: string, times = 1): Promise<void> {
    for (let time = 0; time < times; time++) {
      pressed.others += 1
      await page.keyboard.press(name)
    }
  }

  /** Letters and digits that are no figure count like any other key. */
  async function text(letters: string): Promise<void> {
    pressed.others += letters.length
    await page.keyboard.type(letters)
  }

  /** As a person with a comma on the number pad types every third. */
  async function figure(value: number, place: number): Promise<void> {
    const typed = place % 3 === 0 ? String(value).replace('.', ',') : String(value)
    for (const sign of typed) {
      if (sign >= '0' && sign <= '9') pressed.figures += 1
      else pressed.marks += 1
    }
    await page.keyboard.type(typed)
  }

  function sheetMade(): Sheet {
    const [sheet] = lab.list('sheet')
    return sheet
  }

  it(`takes under ${MOST_PRESSES} key presses beyond the figures for ${RUNS} runs, no mouse`, { timeout: 240_000 }, async () => {
    // Past the rail to the content, then to the tunes.
    await key('Tab')
    await key('Enter')
    for (let tabs = 0; !(await focusedOn('Tunes')); tabs++) {
      if (tabs > 20) throw new Error('the tunes must be reached with the tab key')
      await key('Tab')
    }
    await key('Enter', 2)
    await key('Tab', 2)
    expect(await focusedOn('Samples')).toBe(true)
    await key('Enter', 4)
    // Three starts, two repeats and cold are what is offered.
    await key('Tab')
    await key('Enter')
    await page.locator('.entry-grid').waitFor()

    const sheet = sheetMade()
    expect([sheet.starts.length, sheet.repeats, sheet.workloadIds.length]).toEqual([STARTS, 2, 8])
    const remountAt = remountPlace(sheet)
    for (let start = 0; start < STARTS; start++) {
      await page.getByRole('heading', { name: `Start ${start + 1} of ${STARTS}:` }).waitFor()
      await page.locator('[data-cell="0-0"] input').first().and(page.locator(':focus')).waitFor()
      if (start === remountAt) await key('m')
      if (start === 0 || start === FIRMWARE_AT) {
        await key('c')
        await page.getByRole('dialog').waitFor()
        await text(start === 0 ? '1.04' : '1.05')
        await key('Enter')
        await page.getByRole('dialog').waitFor({ state: 'detached' })
      } else await key('Enter')
      for (let repeat = 0; repeat < 2; repeat++) {
        for (const [place, { measures }] of day.workloads.entries()) {
          const { outcome, measures: values } = endingOf(start, place, repeat, measures)
          for (const [measure, { value }] of values.entries()) {
            if (measure > 0) await key('Space')
            await figure(value, start + place)
          }
          await key(LETTERS[outcome] ?? 'Enter')
        }
      }
    }
    await page.getByText('Every start of this sheet is done.').waitFor()
    await page.getByText('Everything entered is saved.').waitFor()
    expect(pressed.others).toBeLessThan(MOST_PRESSES)
    expect(pressed.others).toBeGreaterThan(RUNS)
  })

  it('leaves every run in the lab as it was typed, in its place', () => {
    const sheet = sheetMade()
    expect(lab.list('start')).toHaveLength(STARTS)
    expect(lab.list('run')).toHaveLength(RUNS)
    expect(lab.check()).toEqual([])
    for (const [start, planned] of sheet.starts.entries()) {
      const within = lab.ofStart(planned.startId)
      const inForce = within.filter((record) => record.kind === 'in force')
      expect(inForce.map(({ tuneId, known }) => [tuneId, known])).toEqual([[planned.tuneId, 'unverified']])
      const runs = within.filter((record) => record.kind === 'run').toSorted((a, b) => a.order - b.order)
      const expected = [0, 1].flatMap((repeat) => day.workloads.map(({ id, measures }, place) => ({ workloadId: id, inForceId: inForce[0].id, ...endingOf(start, place, repeat, measures) })))
      expect(runs.map(({ workloadId, inForceId, outcome, measures }) => ({ workloadId, inForceId, outcome, measures }))).toEqual(expected)
      expect(runs.map(({ order }) => order)).toEqual(runs.map((_, place) => place))
    }
    expect(lab.list('run').filter(({ outcome }) => outcome !== 'scored')).toHaveLength(6)
  })

  it('parts the starts where the firmware, the mount and the sample changed, and nowhere else', () => {
    const sheet = sheetMade()
    const remountAt = remountPlace(sheet)
    const assemblies = new Map(lab.list('assembly').map((assembly) => [assembly.id, assembly]))
    const starts = sheet.starts.map(({ startId }) => lab.get(startId)).filter((record) => record?.kind === 'start')
    expect(starts.map(({ conditions }) => conditions)).toEqual(starts.map((_, place) => ({ firmware: place < FIRMWARE_AT ? '1.04' : '1.05' })))
    const inIt = starts.map(({ assemblyId }) => assemblies.get(assemblyId)?.slots.find(({ slot }) => slot === 'processor')?.sampleId)
    expect(inIt).toEqual(sheet.starts.map(({ slots }) => slots[0].sampleId))
    expect(starts[0].mountId).toBe(day.mountId)
    const newMount = starts.map(({ mountId }, place) => place > 0 && mountId !== starts[place - 1].mountId)
    expect(newMount).toEqual(starts.map((_, place) => place > 0 && (place === remountAt || inIt[place] !== inIt[place - 1])))
    for (const sampleId of day.samples) for (const tuneId of day.tunes) expect(sheet.starts.filter((planned) => planned.tuneId === tuneId && planned.slots[0].sampleId === sampleId)).toHaveLength(3)
  })

  async function focusedOn(label: string): Promise<boolean> {
    return (await page.getByLabel(new RegExp(`^${label}`)).and(page.locator(':focus')).count()) === 1
  }
})

const FIRMWARE_AT = 13

/** The first start from the seventh on that needs no swap. */
function remountPlace({ starts }: Sheet): number {
  return starts.findIndex(({ slots }, place) => place >= 6 && slots[0].sampleId === starts[place - 1].slots[0].sampleId)
}
