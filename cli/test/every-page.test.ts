// Every page on the real hub, over the demo with a sheet begun and rigs at work, and over an empty workspace: light, dark, wide and narrow, nothing to object to for axe, the console or the content policy.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { AxeBuilder } from '@axe-core/playwright'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { startHub, type Hub } from '@guardband/hub'
import { createLab, type Lab } from '@guardband/lab'
import { DEMO_LAB, demoRecords } from '@guardband/simlab/demo'
import { buildPage, CHROMIUM, hubSources, realSources, startBrowser } from './real-page.ts'
import { ask, letInByPage, scriptedRig } from './scripted-rig.ts'

const LISTS = ['/', '/parts', '/tunes', '/tunes/new', '/tunes/settings', '/tunes/dump', '/runs', '/runs?outcome=failed&since=2026-11-01', '/runs/enter', '/runs/take', '/find?q=render', '/questions', '/questions/ask', '/reports', '/rigs',
  '/lab', '/lab/costs', '/lab/workloads', '/lab/suites', '/lab/grades', '/lab/ceilings', '/lab/keep', '/lab/devices', '/lab/changes']
const LOOKS = [
  { width: 1440, scheme: 'light' }, { width: 1440, scheme: 'dark' }, { width: 390, scheme: 'light' }, { width: 390, scheme: 'dark' },
] as const

describe.skipIf(CHROMIUM === '')('every page on the real hub (skipped where no Chromium is found)', () => {
  const folder = mkdtempSync(join(tmpdir(), 'guardband-every-page-'))
    let browser: Browser
  let demo: Hub
  let empty: Hub
  let single: readonly string[]

  const serve = (lab: Lab): Promise<Hub> =>
    startHub({
      lab, host: '127.0.0.1', port: 0, webFolder: join(folder, 'page'), keysFolder: join(folder, 'keys'), who: 'Ada', sources: hubSources,
      createOwnLab: () => Promise.reject(new Error('no other workspace is made here')),
    })

  beforeAll(async () => {
    await buildPage(join(folder, 'page'))
    const lab = createLab(join(folder, 'demo'), { ...DEMO_LAB, who: 'simulated bench', records: demoRecords() }, realSources)
    single = [...addSheet(lab, realSources.newId), ...singlePages(lab)]
    demo = await serve(lab)
    await letRigsWork(demo)
    empty = await serve(createLab(join(folder, 'empty'), { name: 'South Quay bench', currency: 'EUR' }, realSources))
    browser = await startBrowser()
  }, 120_000)

  afterAll(async () => {
    await browser?.close()
    await demo?.close()
    await empty?.close()
    rmSync(folder, { recursive: true, force: true })
  })

  for (const { width, scheme } of LOOKS) {
    it(`no page gives cause for complaint: ${scheme}, ${width} px`, { timeout: 600_000 }, async () => {
      const context = await browser.newContext({ viewport: { width, height: 900 }, colorScheme: scheme, reducedMotion: 'reduce' })
      const page = await context.newPage()
      const found: string[] = []
      page.on('console', (message) => {
        if (message.type() === 'error' || message.type() === 'warning') found.push(`${page.url()}: ${message.text()} ${message.location().url}`)
      })
      page.on('pageerror', (error) => found.push(`${page.url()}: ${error.message}`))
      // An empty workspace looks the same in either theme but for its colours, which the full one shows.
      for (const hub of scheme === 'light' ? [demo, empty] : [demo]) {
        // The door is no page: the browser asks it for an icon that it has not.
        const door = await context.newPage()
        await door.goto(hub.newOpenUrl())
        await door.locator('main h1').waitFor()
        await door.close()
        for (const path of hub === demo ? [...LISTS, ...single] : LISTS) {
          await page.goto(new URL(path, hub.url).href)
          await page.locator('main h1').waitFor()
          await page.locator('.waiting').first().waitFor({ state: 'detached' })
          if ((await page.locator('main h1').textContent())?.startsWith('There is no page') === true) found.push(`${path}: there is no such page`)
          const { violations } = await new AxeBuilder({ page }).analyze()
          found.push(...violations.map((violation) => `${path}: ${violation.id} at ${violation.nodes.map((node) => `${node.target.join(' ')} ${node.failureSummary ?? ''}`).slice(0, 2).join(', ')}`))
          const over: unknown = await page.evaluate('document.documentElement.scrollWidth - innerWidth')
          if (over !== 0) found.push(`${path}: ${String(over)} px wider than the window`)
        }
      }
      await context.close()
      expect(found).toEqual([])
    })
  }
})

/** A sheet of two starts on the demo's first rig; the page that works it off. */
function addSheet(lab: Lab, newId: () => string): readonly string[] {
  const [rig] = lab.list('rig')
  const [sample] = lab.list('sample')
  const tunes = lab.list('tune')
  const [suite] = lab.list('suite')
  if (rig === undefined || sample === undefined || suite === undefined) throw new Error('the demo must hold a rig, a sample and a suite; got none')
  const id = newId()
  const starts = tunes.slice(0, 2).map((tune) => ({ startId: newId(), tuneId: tune.id, how: 'cold' as const, slots: [{ slot: 'processor' as const, sampleId: sample.id }] }))
  lab.apply({
    who: 'test', what: 'a sheet',
    items: [{ before: null, after: { kind: 'sheet', id, name: 'Today', rigId: rig.id, at: '2026-11-06T08:00:00Z', suiteId: suite.id, workloadIds: suite.items.map(({ workloadId }) => workloadId), repeats: 2, conditions: {}, starts } }],
  })
  return [`/runs/enter?sheet=${id}`]
}

function singlePages(lab: Lab): readonly string[] {
  const [part] = lab.list('part')
  const [sample] = lab.list('sample')
  const [a, b] = lab.list('tune')
  const [failed] = lab.runs({ from: 0, count: 1, outcome: 'failed' }).rows
  const [scored] = lab.runs({ from: 40, count: 1, outcome: 'scored' }).rows
  return [
    `/parts/${part?.id}`, `/samples/${sample?.id}`, `/tunes/${a?.id}`, `/tunes/compare?a=${a?.id}&b=${b?.id}`, `/runs/${failed?.id}`, `/runs/${scored?.id}`, `/starts/${scored?.startId}`,
    ...lab.list('question').slice(0, 2).map(({ id }) => `/questions/${id}`),
  ]
}

/** One asks for a tune to be set, one was heard with a clock that is off and a crash behind it. */
async function letRigsWork(hub: Hub): Promise<void> {
  const now = realSources.now
  const url = await hub.listenForPhones({ address: '127.0.0.1', port: 0 })
  const north = await scriptedRig({ url, ...(await letInByPage(hub)), name: 'north bench', now })
  const since = new Date(now()).toISOString()
  const lines = [{ number: 1, key: 'package power limit', where: '', from: '120 W', to: '65 W' }, { number: 2, key: 'core voltage offset', where: 'core 3', from: null, to: '-40 mV' }]
  await north.say({ state: 'asks', ask: ask(realSources.newId(), 'done', { text: 'Put the tune "quiet 65 W" in force.', since, lines }) })
  const south = await scriptedRig({ url, ...(await letInByPage(hub)), name: 'south bench', now })
  await south.say({ last: [{ at: since, text: 'the machine restarted 41 s after it began', outcome: 'machine reset' }] }, { offset: 734.2, within: 0.04 })
  north.close()
  south.close()
}
