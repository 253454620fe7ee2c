// Rigs at work on Bench and Rigs over a made-up hub: what is typed and where the focus is outlive every update, an answer is said to be given only when it was, and everything is reached from the keyboard.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { AxeBuilder } from '@axe-core/playwright'
import type { LiveRig } from '@guardband/model/api/live'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { buildPage, CHROMIUM, openPage, startBrowser, type Watched } from './browser.ts'
import { FULL } from './fixtures/lab.ts'
import { ask, liveRig } from './fixtures/live.ts'
import { Refused, startHubDouble, type HubDouble } from './hub-double.ts'

const VALUE = ask('value', { text: 'What does the wall meter say?', unit: 'W' })
const SHEET = ask('done', {
  id: '0190a000-0000-7000-8000-0000000a5c03',
  text: 'Put the tune "quiet 65 W" in force.',
  lines: [{ number: 1, key: 'package power limit', where: '', from: '120 W', to: '65 W' }, { number: 2, key: 'core voltage offset', where: 'core 3', from: null, to: '-40 mV' }],
})

describe.skipIf(CHROMIUM === '')('rigs at work in a browser (skipped where no Chromium is found)', () => {
  let browser: Browser
  let dist: string
  let hub: HubDouble

  beforeAll(async () => {
    dist = await mkdtemp(join(tmpdir(), 'guardband-live-'))
    await buildPage(dist)
    hub = await startHubDouble(dist, FULL)
    browser = await startBrowser()
  }, 120_000)
  beforeEach(() => void hub.posted.splice(0))
  afterAll(async () => {
    await browser?.close()
    await hub?.close()
    if (dist !== undefined) await rm(dist, { recursive: true, force: true })
  })

  const tell = (...rigs: readonly LiveRig[]): void => {
    hub.replies.set('liveRigs', { rigs: [...rigs].map((rig) => ({ ...rig, heard: new Date().toISOString() })), now: Date.now() })
    hub.send({ type: 'rigs' })
  }
  const open = async (path: string): Promise<Watched> => {
    const watched = await openPage(browser)
    await watched.page.goto(hub.address + path)
    await watched.page.locator('.live, .live-strip').first().waitFor()
    return watched
  }

  for (const path of ['/', '/rigs']) {
    test(`${path}: what is typed, its place and the focus stay through heartbeats, further questions and another rig's end`, { timeout: 60_000 }, async () => {
      const north = liveRig('north bench', { state: 'asks', ask: VALUE })
      tell(north, liveRig('south bench'), liveRig('east bench'))
      const { context, page, complaints } = await open(path)
      const field = page.getByLabel('Answer to north bench, in W')
      await field.focus()
      await page.keyboard.type('1,3')
      tell(liveRig('south bench', { state: 'asks', ask: { ...SHEET, since: '2026-11-06T08:00:30Z' } }), liveRig('east bench', { done: 15 }), { ...north, state: { ...north.state, done: 15 } })
      await page.getByText('Put the tune').first().waitFor()
      await page.keyboard.type('5')
      tell(liveRig('east bench', { state: 'finished' }), north, liveRig('south bench'))
      await expect.poll(() => news(page)).toContain('east bench has finished')
      await page.keyboard.type('0')
      expect(await field.inputValue()).toBe('1,350')
      expect(await field.evaluate((element) => element === document.activeElement)).toBe(true)
      await page.getByRole('button', { name: 'Answer 1.350 W' }).waitFor()
      hub.replies.set('answerRig', { rigs: [{ ...north, answered: '1.350', answeredBy: { who: 'Ada', via: 'page' } }], now: Date.now() })
      await page.keyboard.press('Enter')
      await page.getByText('Answered by Ada: 1.350. The rig has not fetched it yet.').waitFor()
      expect(hub.posted).toEqual([{ route: 'answerRig', path: `/api/live/rigs/${north.device.id}/answer`, body: JSON.stringify({ ask: VALUE.id, answer: '1.350' }) }])
      // The field is gone; the focus is at the rig's heading, not at the top of the page.
      expect(await page.evaluate(() => document.activeElement?.textContent)).toContain('north bench')
      expect(complaints).toEqual([])
      await context.close()
    })
  }

  test('a value that is no figure is not sent; one that the hub refuses stays in the field with the reason', { timeout: 60_000 }, async () => {
    tell(liveRig('north bench', { state: 'asks', ask: VALUE }))
    const { context, page } = await open('/rigs')
    const field = page.getByLabel('Answer to north bench, in W')
    await field.fill('about 40')
    await page.keyboard.press('Enter')
    await page.getByText('It must be a figure in W, such as 41.5 or 41,5; got "about 40".').waitFor()
    expect(hub.posted).toEqual([])
    hub.replies.set('answerRig', () => new Refused(409, { code: 'ask-answered', sentence: 'Phone of the north bench answered it already: 41.' }))
    await field.fill('41.5')
    await page.keyboard.press('Enter')
    await page.getByRole('alert').getByText('Phone of the north bench answered it already: 41.').waitFor()
    expect(await field.inputValue()).toBe('41.5')
    await context.close()
  })

  test('a question that goes while somebody types says so and keeps what was typed', { timeout: 60_000 }, async () => {
    tell(liveRig('north bench', { state: 'asks', ask: VALUE }))
    const { context, page } = await open('/')
    await page.getByLabel('Answer to north bench, in W').fill('41.5')
    tell(liveRig('north bench'))
    await page.getByText('no longer asks "What does the wall meter say?": it was answered elsewhere, or the rig went on. What you typed, 41.5, was not sent.').waitFor()
    expect(hub.posted).toEqual([])
    await context.close()
  })

  test('the sheet of what differs is numbered, says what is not known, and is answered with one key', { timeout: 60_000 }, async () => {
    const north = liveRig('north bench', { state: 'asks', ask: SHEET })
    tell(north)
    const { context, page } = await open('/')
    expect((await page.locator('.change-sheet li').allInnerTexts()).map((text) => text.replaceAll(/\s+/g, ' '))).toEqual(['1 package power limit from 120 W → to 65 W', '2 core voltage offset core 3 from not known → to -40 mV'])
    expect(await page.locator('h1').innerText()).toBe('North bench asks you something.')
    hub.replies.set('answerRig', { rigs: [liveRig('north bench')], now: Date.now() })
    await page.getByRole('button', { name: 'Done, north bench' }).focus()
    await page.keyboard.press('Enter')
    await page.locator('.ask').waitFor({ state: 'detached' })
    expect(hub.posted).toMatchObject([{ body: JSON.stringify({ ask: SHEET.id, answer: '' }) }])
    await context.close()
  })

  test('a rig is stopped only after a plain word on what that does', { timeout: 60_000 }, async () => {
    tell(liveRig('north bench'))
    const { context, page } = await open('/rigs')
    await page.getByRole('button', { name: 'Stop it: north bench' }).click()
    await page.getByRole('dialog').getByText('It stops after the run in hand. Only a person at the rig starts it again').waitFor()
    await page.getByRole('button', { name: 'Leave it' }).click()
    expect(hub.posted).toEqual([])
    await page.getByRole('button', { name: 'Stop it: north bench' }).click()
    hub.replies.set('stopRig', { rigs: [{ ...liveRig('north bench'), stopAsked: true }], now: Date.now() })
    await page.getByRole('button', { name: 'Stop after this run' }).click()
    await page.getByText('You asked it to stop: it does once the run in hand has ended.').waitFor()
    expect(hub.posted.map(({ route }) => route)).toEqual(['stopRig'])
    await context.close()
  })

  test('a silent rig is a caution by mark and word; only questions and ends are spoken', { timeout: 60_000 }, async () => {
    tell(liveRig('north bench'))
    const { context, page } = await open('/rigs')
    hub.replies.set('liveRigs', { rigs: [{ ...liveRig('north bench', { last: [{ at: '2026-11-06T07:40:00Z', text: 'the machine restarted 41 s after it began', outcome: 'machine reset' }] }), heard: new Date(Date.now() - 125_000).toISOString(), clock: { offset: 734.2, within: 0.04 } }], now: Date.now() })
    hub.send({ type: 'rigs' })
    await page.getByText('not heard for 2').waitFor()
    expect((await page.locator('.silent').innerText()).replaceAll(/\s+/g, ' ')).toBe('! not heard for 2 min')
    // What happened at 07:40 by the rig's clock happened at 07:52 by the hub's.
    expect((await page.locator('.timeline .event').innerText()).replaceAll(/\s+/g, ' ')).toBe('07:52 machine reset the machine restarted 41 s after it began')
    expect(await news(page)).toBe('')
    const { violations } = await new AxeBuilder({ page }).analyze()
    expect(violations.map(({ id }) => id)).toEqual([])
    await context.close()
  })

  test('where no rig was heard, nothing stands there', { timeout: 60_000 }, async () => {
    hub.replies.set('liveRigs', { rigs: [], now: Date.now() })
    const { context, page } = await openPage(browser)
    for (const path of ['/', '/rigs']) {
      await page.goto(hub.address + path)
      await page.locator('.sheet').first().waitFor()
      expect(await page.locator('.live, .live-strip').count()).toBe(0)
    }
    await context.close()
  })
})

/** What was spoken last to those who hear the page. */
async function news(page: Page): Promise<string> {
  return page.locator('p.unseen[role=status]').innerText()
}
