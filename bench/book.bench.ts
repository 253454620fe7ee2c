// Every page over a large bench book: milliseconds from opening its address until it can be worked with, and from a key to the frame that shows it.
import { join } from 'node:path'
import type { BrowserContext, Page } from 'playwright-core'
import type { Bench } from './bench.ts'
import { BOOK_SIZE, makeBookLab, type BookLab } from './book-lab.ts'
import { median } from './median.ts'
import { serveLab, withBrowser } from './served-lab.ts'
import { typingTimes } from './typing.ts'

const BAR_MS = 1000
const TYPING_BAR_MS = 50
const ROUNDS = 5
const BARE = '/nowhere'
const TYPED = 'tray 3 SIM 12, step'

export const bench: Bench = {
  name: 'book',
  what: `every page over ${BOOK_SIZE.tunes} tunes of ${BOOK_SIZE.settings} settings, ${BOOK_SIZE.samples} samples, ${BOOK_SIZE.runs.toLocaleString('en')} runs: slowest page, milliseconds until interactive, median of ${ROUNDS}; typing, key to frame`,
  run: (args, print) =>
    withBrowser(async (browser, folder) => {
      const home = join(folder, 'lab')
      const book = await makeBookLab(home)
      print('the workspace stands')
      const hub = await serveLab(home)
      try {
        const context = await browser.newContext({ viewport: { width: 1440, height: 900 } })
        const door = await context.newPage()
        await door.goto(hub.url)
        await door.locator('main h1').first().waitFor()
        await door.close()
        const wanted = pagesOf(book).filter(({ path }) => args.length === 0 || args.some((word) => path.includes(word)))
        const pages: PageFigures[] = []
        // What a page costs on this machine at this moment that shows nothing of the workspace but its name.
        const bare = await measure(context, hub.url, { path: BARE })
        print(`a bare page: ${bare.open.toFixed(0)} ms; typing ${(bare.typing ?? 0).toFixed(0)} ms`)
        for (const each of wanted) {
          const figures = await measure(context, hub.url, each)
          pages.push(figures)
          print(`${figures.path}: ${figures.open.toFixed(0)} ms, first ${figures.first.toFixed(0)} ms${figures.typing === null ? '' : `; typing ${figures.typing.toFixed(0)} ms, worst ${(figures.typingWorst ?? 0).toFixed(0)} ms`}`)
        }
        const value = Math.max(...pages.map(({ open }) => open))
        const typing = Math.max(0, ...pages.map((page) => page.typing ?? 0))
        return {
          value, reference: BAR_MS, bar: `every page at most ${BAR_MS} ms; typing at most ${TYPING_BAR_MS} ms from key to frame, nine keys of ten`,
          pass: value <= BAR_MS && typing <= TYPING_BAR_MS, detail: { bare: { open: bare.open, typing: bare.typing }, slowest: pages.find(({ open }) => open === value)?.path, typing, pages },
        }
      } finally {
        await hub.stop()
      }
    }),
}

interface BookPage {
  readonly path: string
  /** What opens the form with the field that is typed into. */
  readonly press?: string
}

function pagesOf(book: BookLab): readonly BookPage[] {
  return [
    { path: '/' },
    { path: '/parts' },
    { path: `/parts/${book.partId}` },
    { path: `/samples/${book.sampleId}` },
    { path: '/tunes' },
    { path: '/tunes/new' },
    { path: '/tunes/settings' },
    { path: '/tunes/dump' },
    { path: `/tunes/${book.tuneIds[0]}` },
    { path: `/tunes/compare?a=${book.tuneIds[0]}&b=${book.tuneIds[1]}` },
    { path: '/runs' },
    { path: '/runs?from=90000' },
    { path: '/runs?find=workload%207' },
    { path: `/runs/${book.runId}`, press: 'Correct it' },
    { path: `/starts/${book.startId}`, press: 'Correct conditions or training' },
    { path: '/runs/enter' },
    { path: `/runs/enter?sheet=${book.sheetId}` },
    { path: '/runs/take' },
    { path: '/questions' },
    { path: '/questions/ask' },
    { path: `/questions/${book.questionId}` },
    { path: '/reports' },
    { path: '/rigs' },
    { path: '/find?q=tray' },
    { path: '/lab' },
    { path: '/lab/costs' },
    { path: '/lab/workloads', press: 'Add a workload' },
    { path: '/lab/suites', press: 'Make a suite' },
    { path: '/lab/grades', press: 'Make a grade' },
    { path: '/lab/ceilings', press: 'Set a ceiling' },
    { path: '/lab/keep' },
    { path: '/lab/devices' },
    { path: '/lab/changes' },
  ]
}

interface PageFigures {
  readonly path: string
  readonly open: number
  /** The first opening, with whatever the hub then works out for the first time. */
  readonly first: number
  /** Nine keys of ten take no longer; null where the page has nothing to type into. */
  readonly typing: number | null
  readonly typingWorst: number | null
}

async function measure(context: BrowserContext, origin: string, { path, press }: BookPage): Promise<PageFigures> {
  const times: number[] = []
  let typed: readonly number[] = []
  for (let round = 0; round < ROUNDS + 1; round++) {
    const page = await context.newPage()
    const from = performance.now()
    await page.goto(new URL(path, origin).href, { waitUntil: 'commit' })
    await isInteractive(page)
    times.push(performance.now() - from)
    if (path !== BARE && (await page.locator('h1').first().textContent())?.startsWith('There is no page') === true) throw new Error(`${path} must be a page; got none`)
    if (round === ROUNDS) {
      if (press !== undefined) await page.getByRole('button', { name: press, exact: true }).first().click()
      const place = press !== undefined ? page.locator('dialog') : path === BARE ? page.locator('body') : page.locator('main')
      const field = place.locator('input:not([type]):visible, input[type=search]:visible, input[type=text]:visible, textarea:visible').first()
      if ((await field.count()) > 0) typed = await typingTimes(page, field, TYPED)
    }
    await page.close()
  }
  const [first, ...rest] = times
  const sorted = typed.toSorted((a, b) => a - b)
  return { path, open: median(rest), first, typing: sorted[Math.ceil(sorted.length * NINE_OF_TEN) - 1] ?? null, typingWorst: sorted.at(-1) ?? null }
}

const NINE_OF_TEN = 0.9

/** The headline and all lists stand, nothing is being read any more, and the page answers: two frames were drawn after that. */
async function isInteractive(page: Page): Promise<void> {
  await page.locator('main h1').first().waitFor()
  await page.evaluate(STANDS)
}

const STANDS = `new Promise((resolve) => {
  let frames = 0
  const look = () => {
    frames = document.querySelector('main h1') !== null && document.querySelector('.waiting') === null ? frames + 1 : 0
    if (frames > 2) resolve(undefined)
    else requestAnimationFrame(look)
  }
  look()
})`
