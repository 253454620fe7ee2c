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

const routes = ['/', '/parts', '/tunes', '/runs', '/runs/take', '/questions', '/questions/ask', '/reports', '/rigs', '/lab']
/** Where an empty workspace says what to do first. */
const emptyRoutes = ['/', '/questions', '/runs']

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
  const questions = await linksUnder(page, new URL('/questions', url).href)
  for (const route of [...pages, ...questions]) {
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

async function linksUnder(page: Page, url: string): Promise<readonly string[]> {
  await page.goto(url)
  await settle(page)
  const all: readonly string[] = await page.locator('a[href^="/questions/"]').evaluateAll((links) => links.map((link) => link.getAttribute('href') ?? ''))
  return [...new Set(all)].filter((link) => link !== '' && !routes.includes(link)).toSorted()
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
  return plain === '' ? 'home' : plain
}
