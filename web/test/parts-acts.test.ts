// Parts and rigs in a real browser: a tray scanned at a scanner's pace, samples sorted by keys, a sample swapped. What reaches the hub is what was meant.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { recordSchema, type LabRecord, type PartRow } from '@guardband/model'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { buildPage, CHROMIUM, openPage, startBrowser, type Watched } from './browser.ts'
import { BIN_DESK, BIN_FIELD, PART_ID, PART_REPLIES, PART_WHOLE, RIG_ROWS, SAMPLE_A, SAMPLE_B, SAMPLE_SOUTH, SAMPLE_WET } from './fixtures/parts.ts'
import { startHubDouble, type HubDouble } from './hub-double.ts'

const partRow: PartRow = { part: PART_WHOLE.part, samples: PART_WHOLE.samples.map(({ sample, starts, runs }) => ({ sample, starts, runs })) }

describe.skipIf(CHROMIUM === '')('parts and rigs in a browser (skipped where no Chromium is found)', () => {
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
    for (const [name, reply] of Object.entries(PART_REPLIES)) hub.replies.set(name as keyof typeof PART_REPLIES, reply) // The keys are names of routes; the double holds replies against them.
    hub.replies.set('parts', { rows: [partRow] })
    hub.replies.set('rigs', { rows: RIG_ROWS })
    hub.replies.set('apply', { change: 43 })
    opened = await openPage(browser)
    page = opened.page
  })
  afterEach(async () => {
    expect(opened.complaints).toEqual([])
    await opened.context.close()
    await hub.close()
  })

  interface Sent {
    readonly what: string
    readonly why?: string
    readonly after: readonly (LabRecord | null)[]
  }
  const sent = async (): Promise<Sent> => {
    await expect.poll(() => hub.posted.filter(({ route }) => route === 'apply').length, PATIENCE).toBeGreaterThan(0)
    const body = JSON.parse(hub.posted.findLast(({ route }) => route === 'apply')?.body ?? '{}') as { what: string; why?: string; items: { after: unknown }[] } // Checked below against the records' own schema.
    return { what: body.what, ...(body.why === undefined ? {} : { why: body.why }), after: body.items.map(({ after }) => (after === null ? null : recordSchema.parse(after))) }
  }
  const samplesOf = ({ after }: Sent): readonly (LabRecord & { kind: 'sample' })[] => after.flatMap((record) => (record?.kind === 'sample' ? [record] : []))

  for (const end of ['Enter', 'Tab'] as const) {
    test(`a tray scanned at a scanner's pace, each serial ended with ${end}, is entered in one change, numbered on from the last`, async () => {
      await page.goto(`${hub.address}/parts/${PART_ID}?enter=tray`)
      const box = page.getByLabel('Serials, one a line')
      await box.waitFor()
      await expect.poll(() => box.evaluate((element) => element === document.activeElement), PATIENCE).toBe(true)
      await scan(page, ['QW26A0010', 'QW26A0011', 'QW26A0012'], end)
      await page.getByLabel('Batch or week code').fill('2640')
      await page.getByLabel('How picked').selectOption('at random')
      await page.getByRole('button', { name: 'Enter 3 samples' }).click()
      const change = await sent()
      expect(change.what).toBe('Entered 3 samples of Quillon 14: no. 5 to no. 7')
      expect(samplesOf(change).map(({ label, serial, batch, picked, partId }) => ({ label, serial, batch, picked, partId }))).toEqual(
        ['QW26A0010', 'QW26A0011', 'QW26A0012'].map((serial, place) => ({ label: `no. ${place + 5}`, serial, batch: '2640', picked: 'at random', partId: PART_ID })),
      )
      await page.getByText('Entered 3 samples of Quillon 14: no. 5 to no. 7.').waitFor()
      await page.getByRole('button', { name: 'Undo' }).waitFor()
    })
  }

  test("a person's Tab leaves the box for the next field", async () => {
    await page.goto(`${hub.address}/parts/${PART_ID}?enter=tray`)
    await page.getByLabel('Serials, one a line').click()
    await page.keyboard.type('QW26', { delay: 90 })
    await page.keyboard.press('Tab')
    expect(await page.evaluate(() => document.activeElement?.getAttribute('id') === document.querySelector('.tray-shared input')?.id)).toBe(true)
  })

  test('a serial that is in the lab already keeps the tray from being entered, and says where it is', async () => {
    await page.goto(`${hub.address}/parts/${PART_ID}?enter=tray`)
    await page.getByLabel('Serials, one a line').fill('QW26A0010\nqw26a0002')
    await page.getByText('serial qw26a0002 is in the lab already: Quillon 14, no. 2.').waitFor()
    expect(await page.getByRole('button', { name: 'Enter 2 samples' }).isDisabled()).toBe(true)
  })

  test('samples are sorted with one key each; against the evidence only with a reason', async () => {
    await page.goto(`${hub.address}/parts/${PART_ID}`)
    await page.locator('.sort-key').first().focus()
    await page.keyboard.press('Enter')
    const first = await sent()
    expect(samplesOf(first)).toMatchObject([{ id: SAMPLE_A, bin: { binId: BIN_FIELD, by: 'ines' } }])
    expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('no. 2')
    await page.keyboard.press('1')
    await page.getByText('Its runs speak against what this bin asks for.').waitFor()
    expect(hub.posted.filter(({ route }) => route === 'apply').length).toBe(1)
    await page.getByLabel('Why all the same').fill('Measured with the old paste.')
    await page.getByRole('button', { name: 'Sort it there' }).click()
    await expect.poll(() => hub.posted.filter(({ route }) => route === 'apply').length, PATIENCE).toBe(2)
    const second = await sent()
    expect(second.why).toBe('Measured with the old paste.')
    expect(samplesOf(second)).toMatchObject([{ id: SAMPLE_B, bin: { binId: BIN_FIELD, reason: 'Measured with the old paste.' } }])
  })

  test('what is clear is confirmed together; wet and untested samples are not', async () => {
    await page.goto(`${hub.address}/parts/${PART_ID}`)
    await page.getByRole('button', { name: 'Confirm the 2 that are clear' }).click()
    expect(samplesOf(await sent()).map(({ id, bin }) => [id, bin?.binId])).toEqual([[SAMPLE_A, BIN_FIELD], [SAMPLE_B, BIN_DESK]])
  })

  test('a swap is a new assembly from a moment on, with the cooler mounted again', async () => {
    await page.goto(`${hub.address}/rigs`)
    await page.getByRole('button', { name: 'Swap the processor of north bench' }).click()
    await page.getByRole('radio', { name: /no\. 2/ }).check()
    await page.getByRole('button', { name: 'Swap', exact: true }).click()
    const change = await sent()
    expect(change.what).toBe('Swapped the processor of north bench: Quillon 14 no. 2 in place of Quillon 14 no. 1')
    const [assembly, mount] = change.after
    expect(assembly).toMatchObject({ kind: 'assembly', rigId: RIG_ROWS[0]?.rig.id, slots: [{ slot: 'processor', sampleId: SAMPLE_B }] })
    expect(mount).toMatchObject({ kind: 'mount', assemblyId: assembly?.id, paste: 'house paste', torque: '0.6 Nm' })
  })

  test('a wet sample is refused with the sentence that says how it comes back', async () => {
    await page.goto(`${hub.address}/rigs`)
    await page.getByRole('button', { name: 'Swap the processor of north bench' }).click()
    await page.getByRole('radio', { name: /no\. 3/ }).check()
    await page.getByText(/no\. 3 is wet, so it can't be put in\. Dry it/).waitFor()
    await page.getByRole('button', { name: 'Swap', exact: true }).click()
    expect(hub.posted.filter(({ route }) => route === 'apply')).toEqual([])
    expect(SAMPLE_WET).not.toBe(SAMPLE_B)
  })

  test('a sample that sits in another rig goes in only when it is taken out there', async () => {
    await page.goto(`${hub.address}/rigs`)
    await page.getByRole('button', { name: 'Swap the processor of north bench' }).click()
    await page.getByRole('radio', { name: /no\. 4/ }).check()
    await page.getByRole('button', { name: 'Swap', exact: true }).click()
    await page.getByText('no. 4 sits in south bench.').waitFor()
    expect(hub.posted.filter(({ route }) => route === 'apply')).toEqual([])
    await page.getByLabel('Take it out of south bench at the same moment').check()
    await page.getByRole('button', { name: 'Swap', exact: true }).click()
    const { after } = await sent()
    expect(after.filter((record) => record?.kind === 'assembly').map((record) => [record.rigId, record.slots.map(({ sampleId }) => sampleId)])).toEqual([
      [RIG_ROWS[0]?.rig.id, [SAMPLE_SOUTH]],
      [RIG_ROWS[1]?.rig.id, []],
    ])
  })

  test('an inspection that found a sample still wet keeps it locked; one that found it dry brings it back', async () => {
    await page.goto(`${hub.address}/samples/${SAMPLE_WET}`)
    for (const [dry, status] of [['No, it stays locked', 'wet'], ['Yes, it may go back', 'bench']] as const) {
      const before = hub.posted.length
      await page.getByRole('button', { name: 'Enter an inspection' }).click()
      await page.getByRole('button', { name: 'Enter it' }).click()
      await page.getByText('Say what was found').waitFor()
      expect(hub.posted.length).toBe(before)
      await page.getByLabel('What was found').fill('Looked between the contacts with a lamp.')
      await page.getByLabel(dry).check()
      await page.getByRole('button', { name: 'Enter it' }).click()
      await expect.poll(() => hub.posted.length, PATIENCE).toBe(before + 1)
      expect(samplesOf(await sent())).toMatchObject([{ id: SAMPLE_WET, status, inspections: [{ dry: false }, { dry: status === 'bench', found: 'Looked between the contacts with a lamp.', by: 'ines' }] }])
    }
  })
})

/** A busy machine is no failure of the page. */
const PATIENCE = { timeout: 10_000 }

// Keys through the browser's driver bear the time at which a busy machine let them through; these bear a scanner's, eight milliseconds apart.
function scan(on: Page, serials: readonly string[], end: 'Enter' | 'Tab'): Promise<void> {
  return on.getByLabel('Serials, one a line').evaluate(
    (box, { serials: codes, end: last }) => {
      if (!(box instanceof HTMLTextAreaElement)) throw new Error('the box must be a text area')
      let at = performance.now()
      const press = (key: string): boolean => {
        const event = new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true })
        Object.defineProperty(event, 'timeStamp', { value: (at += 8) })
        return box.dispatchEvent(event)
      }
      for (const code of codes) {
        for (const sign of code) if (press(sign)) document.execCommand('insertText', false, sign)
        // What the browser does by itself on Enter; on Tab it would leave the box.
        if (!press(last)) continue
        if (last === 'Enter') document.execCommand('insertText', false, '\n')
        else throw new Error('the Tab of a scanner must not leave the box')
      }
    },
    { serials, end },
  )
}
