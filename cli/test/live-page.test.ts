// A rig's questions on the real hub: answered from the page and from the phone, even through a lost connection, and the rig gets each answer once asked again, with the name of who gave it.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { AxeBuilder } from '@axe-core/playwright'
import type { Browser, BrowserContext, Page } from 'playwright-core'
import { build } from 'vite'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest'
import { startHub, type Hub } from '@guardband/hub'
import { createLab } from '@guardband/lab'
import type { Ask } from '@guardband/model'
import { buildPage, CHROMIUM, hubSources, realSources, startBrowser } from './real-page.ts'
import { ask, letInByPage, scriptedRig, type ScriptedRig } from './scripted-rig.ts'

const PHONE = fileURLToPath(new URL('../../web/phone', import.meta.url))
const { newId, now } = realSources

describe.skipIf(CHROMIUM === '')('a rig that asks (skipped where no Chromium is found)', () => {
  const folder = mkdtempSync(join(tmpdir(), 'guardband-live-page-'))
  let place = 0
  let browser: Browser
  let hub: Hub
  let phonesUrl: string
  let rig: ScriptedRig
  let contexts: BrowserContext[] = []

  beforeAll(async () => {
    await buildPage(join(folder, 'page'))
    await build({ root: PHONE, configFile: join(PHONE, 'vite.config.ts'), logLevel: 'error', build: { outDir: join(folder, 'page', 'phone'), emptyOutDir: true } })
    // A person looks at the certificate; the test's browser is told to accept it.
    browser = await startBrowser({ args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync', '--ignore-certificate-errors'] })
  }, 120_000)
  beforeEach(async () => {
    place += 1
    const lab = createLab(join(folder, String(place)), { name: 'Hollin & Pike', currency: '', simulated: true }, realSources)
    hub = await startHub({ lab, host: '127.0.0.1', port: 0, webFolder: join(folder, 'page'), keysFolder: join(folder, 'keys'), who: 'Ada', sources: hubSources, createOwnLab: () => Promise.reject(new Error('no other workspace is made here')) })
    phonesUrl = await hub.listenForPhones({ address: '127.0.0.1', port: 0 })
    rig = await scriptedRig({ url: phonesUrl, ...(await letInByPage(hub)), name: 'north bench', now })
  }, 60_000)
  afterEach(async () => {
    for (const context of contexts) await context.close()
    contexts = []
    rig?.close()
    await hub?.close()
  })
  afterAll(async () => {
    await browser?.close()
    rmSync(folder, { recursive: true, force: true })
  })

  async function openPage(path: string): Promise<Page> {
    const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, reducedMotion: 'reduce' })
    contexts.push(context)
    const page = await context.newPage()
    await page.goto(hub.newOpenUrl())
    await page.locator('main h1').waitFor()
    await page.goto(new URL(path, hub.url).href)
    return page
  }
  async function openPhone(look: { readonly width?: number; readonly scheme?: 'light' | 'dark' } = {}): Promise<Page> {
    const context = await browser.newContext({ viewport: { width: look.width ?? 390, height: 844 }, colorScheme: look.scheme ?? 'light', hasTouch: true, isMobile: true, reducedMotion: 'reduce' })
    contexts.push(context)
    const page = await context.newPage()
    await page.goto(phonesUrl)
    await page.fill('#code', (await letInByPage(hub)).code)
    await page.fill('#name', 'phone of the north bench')
    await page.getByRole('button', { name: 'Let in' }).tap()
    await page.getByRole('heading', { level: 1, name: 'No sheet is open.' }).waitFor()
    return page
  }

  it('is answered from the page with a figure, and from the phone with a word; the rig hears both and by whom', { timeout: 90_000 }, async () => {
    const page = await openPage('/')
    const phone = await openPhone()
    const meter = asks('What does the wall meter say?', 'value', { unit: 'W' })
    expect(await rig.say({ state: 'asks', ask: meter })).toMatchObject({ answers: [] })
    await page.getByLabel('Answer to north bench, in W').fill('41,50')
    await page.getByRole('button', { name: 'Answer 41.50 W' }).click()
    await page.getByText('Answered by Ada: 41.50. The rig has not fetched it yet.').waitFor()
    await phone.getByText('Answered by Ada: 41.50.').waitFor()
    // Once more, as where a reply was lost: the answer is there until the rig asks it no longer.
    expect((await rig.say({})).answers).toMatchObject([{ ask: meter.id, answer: '41.50', who: 'Ada', via: 'page' }])
    expect((await rig.say({})).answers).toMatchObject([{ answer: '41.50' }])

    const seen = asks('tune "quiet 65 W" asks for:\n    package power limit: 65 W\nLook at the machine: is this what is in force?', 'choice', { words: ['yes', 'no'] })
    await rig.say({ ask: seen })
    await tap(phone, 'yes')
    await phone.getByText('Answered by phone of the north bench, on the phone: yes.').waitFor()
    expect((await rig.say({})).answers).toMatchObject([{ ask: seen.id, answer: 'yes', who: 'phone of the north bench', via: 'phone' }])
    expect((await rig.say({ state: 'at work', ask: null })).answers).toEqual([])
    await page.getByText('north bench is at work').first().waitFor()
    await phone.getByText('is at work').waitFor()
  })

  it('gets from the phone what was tapped without a connection while it still asks, and not once it goes on', { timeout: 90_000 }, async () => {
    const phone = await openPhone()
    const first = asks('Put the tune "quiet 65 W" in force.', 'done', { lines: [{ number: 1, key: 'package power limit', where: '', from: '120 W', to: '65 W' }] })
    await rig.say({ state: 'asks', ask: first })
    await phone.getByText('from 120 W').waitFor()
    await contexts[0]?.setOffline(true)
    await tap(phone, 'Done')
    await phone.getByText('Not yet sent: done. The hub is out of reach; it is sent when the hub is back, if north bench still asks.').waitFor()
    expect(await phone.locator('.status').innerText()).toContain('1 answer to a rig waits for the hub')
    expect((await rig.say({})).answers).toEqual([])
    await contexts[0]?.setOffline(false)
    await expect.poll(async () => (await rig.say({})).answers, { timeout: 20_000 }).toMatchObject([{ ask: first.id, answer: '', via: 'phone' }])

    const second = asks('Is the pump on?', 'choice', { words: ['yes', 'no'] })
    await rig.say({ ask: second })
    await phone.getByRole('heading', { name: 'Is the pump on?' }).waitFor()
    await contexts[0]?.setOffline(true)
    await tap(phone, 'no')
    await phone.getByText('Not yet sent: no.').waitFor()
    await rig.say({ state: 'at work', ask: null })
    await contexts[0]?.setOffline(false)
    await phone.getByRole('alert').getByText('north bench no longer asks "Is the pump on?": it was answered elsewhere, or the rig went on. Your answer, no, was not sent.').waitFor({ timeout: 20_000 })
    expect((await rig.say({})).answers).toEqual([])
  })

  it('hears from the page that it shall stop', { timeout: 60_000 }, async () => {
    await rig.say({})
    const page = await openPage('/rigs')
    await page.getByRole('button', { name: 'Stop it: north bench' }).click()
    await page.getByRole('button', { name: 'Stop after this run' }).click()
    await page.getByText('You asked it to stop').waitFor()
    expect((await rig.say({})).stop).toBe(true)
    await rig.say({ state: 'stopped', message: 'a person asked for it', step: null })
    await page.getByRole('heading', { name: 'north bench has stopped' }).waitFor()
    expect(await page.getByRole('button', { name: 'Stop it: north bench' }).count()).toBe(0)
  })

  for (const look of [{ width: 390, scheme: 'light' }, { width: 320, scheme: 'dark' }] as const) {
    it(`asks on the phone without a fault that axe finds, a small target or anything to scroll sideways: ${look.width} px, ${look.scheme}`, { timeout: 90_000 }, async () => {
      const phone = await openPhone(look)
      const lines = [{ number: 1, key: 'package power limit', where: '', from: '120 W', to: '65 W' }, { number: 2, key: 'core voltage offset', where: 'core 3', from: null, to: '-40 mV' }]
      for (const next of [asks('Put the tune "quiet 65 W" in force.', 'done', { lines }), asks('What does the wall meter say?', 'value', { unit: 'W' }), asks('Is the pump on?', 'choice', { words: ['yes', 'no'] })]) {
        await rig.say({ state: 'asks', ask: next })
        await phone.getByRole('heading', { name: next.text }).waitFor()
        const { violations } = await new AxeBuilder({ page: phone }).analyze()
        expect(violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html).join(' ')}`)).toEqual([])
        const small = await phone.locator('button:visible, input:visible').evaluateAll((all) => all.filter((one) => one.getBoundingClientRect().height < 56).map((one) => one.textContent))
        expect(small).toEqual([])
        expect(await phone.evaluate('document.documentElement.scrollWidth - innerWidth')).toBeLessThanOrEqual(0)
      }
    })
  }
})

function asks(text: string, kind: Ask['kind'], more: Partial<Ask> = {}): Ask {
  return ask(newId(), kind, { text, since: new Date(now()).toISOString(), ...more })
}

async function tap(page: Page, name: string): Promise<void> {
  // A touch within the same moment as a new question counts as meant for what stood there before.
  await page.getByRole('button', { name, exact: true }).waitFor()
  await page.waitForTimeout(450)
  await page.getByRole('button', { name, exact: true }).tap()
}
