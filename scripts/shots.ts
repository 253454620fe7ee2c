/**
 * `npm run shots`: photographs every page of the demo workspace, and those that an empty one changes most, into shots/, light, dark and on a
 * narrow screen, for people to look at. Exit 1 where a page could not be opened or reported an error.
 */
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { chromium, type Browser, type BrowserContext, type Page } from 'playwright-core'
import { chromiumFlags, findChromium } from '../bench/chromium.ts'
import { startDemo, startEmpty } from './shots/start-lab.ts'

const routes = [
  '/', '/parts', '/tunes', '/tunes/new', '/tunes/settings', '/tunes/dump', '/runs', '/runs?outcome=failed&since=2026-11-01', '/runs/enter', '/runs/take', '/questions', '/questions/ask', '/find?q=render', '/reports', '/rigs',
  '/lab', '/lab/costs', '/lab/workloads', '/lab/suites', '/lab/grades', '/lab/ceilings', '/lab/keep', '/lab/devices', '/lab/changes',
]
/** Where an empty workspace says what to do first. */
const emptyRoutes = ['/', '/questions', '/runs', '/runs/enter', '/parts', '/tunes', '/rigs', '/lab/suites', '/lab/ceilings']

const variants = [
  { name: 'light', colorScheme: 'light', viewport: { width: 1440, height: 900 } },
  { name: 'dark', colorScheme: 'dark', viewport: { width: 1440, height: 900 } },
  { name: 'narrow', colorScheme: 'light', viewport: { width: 390, height: 844 } },
] as const

const root = dirname(dirname(fileURLToPath(import.meta.url)))
const program = findChromium(process.env)
if (program === undefined) {
  console.error('Photographs need Chromium: install it, or set CHROMIUM to its path.')
  process.exitCode = 2
} else {
  process.exitCode = await photographAll(program)
}

async function photographAll(executablePath: string): Promise<number> {
  const home = mkdtempSync(join(tmpdir(), 'guardband-shots-'))
  const target = join(root, 'shots')
  rmSync(target, { recursive: true, force: true })
  mkdirSync(target)
  const demo = await startDemo(root)
  const empty = await startEmpty(root, join(home, 'empty'))
  const browser = await chromium.launch({ executablePath, args: [...chromiumFlags], env: { ...process.env, HOME: home } })
  try {
    const troubles: string[] = []
    for (const { url, prefix, pages } of [
      { url: demo.url, prefix: '', pages: routes },
      { url: empty.url, prefix: 'empty-', pages: emptyRoutes },
    ]) {
      const cookies = await takeCookie(browser, url)
      for (const variant of variants) troubles.push(...(await photograph({ browser, url, cookies, variant, target, prefix, pages })))
    }
    for (const trouble of troubles) console.log(trouble)
    return troubles.length === 0 ? 0 : 1
  } finally {
    await browser.close()
    await Promise.all([demo.stop(), empty.stop()])
    rmSync(home, { recursive: true, force: true })
  }
}

type Cookies = Awaited<ReturnType<BrowserContext['storageState']>>

/** The address carries a token that works once and becomes a cookie; all variants then share that. */
async function takeCookie(browser: Browser, url: string): Promise<Cookies> {
  const context = await browser.newContext()
  const page = await context.newPage()
  await page.goto(url)
  const state = await context.storageState()
  await context.close()
  return state
}

async function photograph({
  browser,
  url,
  cookies,
  variant,
  target,
  prefix,
  pages,
}: {
  readonly browser: Browser
  readonly url: string
  readonly cookies: Cookies
  readonly variant: (typeof variants)[number]
  readonly target: string
  readonly prefix: string
  readonly pages: readonly string[]
}): Promise<readonly string[]> {
  const troubles: string[] = []
  const { viewport, colorScheme } = variant
  const context = await browser.newContext({ viewport, colorScheme, reducedMotion: 'reduce', storageState: cookies })
  const page = await context.newPage()
  page.on('pageerror', (error) => troubles.push(`${variant.name} ${page.url()}: ${error.message}`))
  for (const route of [...pages, ...(await linkedPages(page, url))]) {
    const answer = await page.goto(new URL(route, url).href)
    await settle(page)
    if (answer === null || !answer.ok()) troubles.push(`${variant.name} ${prefix}${route}: got ${answer?.status() ?? 'no answer'}`)
    const sideways = await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth')
    if (sideways !== 0) troubles.push(`${variant.name} ${prefix}${route}: scrolls sideways by ${String(sideways)} px`)
    const file = `${prefix}${fileName(route)}-${variant.name}.png`
    await page.screenshot({ path: join(target, file), fullPage: true })
    console.log(`shots/${file}`)
  }
  await context.close()
  return troubles
}

/** Pages of single records: every answer, and the first part, sample, tune, run and start that lists lead to; the first two tunes beside each other. */
async function linkedPages(page: Page, url: string): Promise<readonly string[]> {
  const [answers, parts, tunes, runs] = [
    await linksUnder(page, url, '/questions', ['/questions/']),
    await linksUnder(page, url, '/parts', ['/parts/', '/samples/']),
    await linksUnder(page, url, '/tunes', ['/tunes/']),
    await linksUnder(page, url, '/runs', ['/runs/', '/starts/']),
  ]
  const [a, b] = tunes.map((link) => link.slice('/tunes/'.length))
  return [
    ...answers, ...first(parts, '/parts/'), ...first(parts, '/samples/'), ...first(tunes, '/tunes/'), ...first(runs, '/runs/'), ...first(runs, '/starts/'),
    ...(a === undefined || b === undefined ? [] : [`/tunes/compare?a=${a}&b=${b}`]),
  ]
}

function first(links: readonly string[], start: string): readonly string[] {
  return links.filter((link) => link.startsWith(start)).slice(0, 1)
}

/** Links to pages that the list of routes does not name, in the order in which they stand. */
async function linksUnder(page: Page, url: string, list: string, starts: readonly string[]): Promise<readonly string[]> {
  await page.goto(new URL(list, url).href)
  await settle(page)
  const all: readonly string[] = await page.locator('main a[href]').evaluateAll((links) => links.map((link) => link.getAttribute('href') ?? ''))
  return [...new Set(all)].filter((link) => starts.some((start) => link.startsWith(start)) && !link.includes('?') && !routes.includes(link))
}

/** The event stream never ends, so the network is never idle: wait for the fonts and until the page has stopped changing. */
async function settle(page: Page): Promise<void> {
  await page.evaluate(`document.fonts.ready.then(() => new Promise((resolve) => {
    const quiet = 300, atMost = 5000
    const done = () => { observer.disconnect(); resolve() }
    let timer = setTimeout(done, quiet)
    const observer = new MutationObserver(() => { clearTimeout(timer); timer = setTimeout(done, quiet) })
    observer.observe(document, { subtree: true, childList: true, attributes: true, characterData: true })
    setTimeout(done, atMost)
  }))`)
}

function fileName(route: string): string {
  const plain = route.replaceAll(/[^a-z0-9]+/gi, '-').replaceAll(/^-|-$/g, '')
  return plain === '' ? 'home' : plain.slice(0, LONGEST_NAME)
}

/** Two ids would make a name that some disks refuse. */
const LONGEST_NAME = 60
