// The entry grid over a large bench book: from each key of a start entered by hand to the frame that shows it, while the entries before are on their way to the disk.
import { join } from 'node:path'
import type { Bench } from './bench.ts'
import { BOOK_SIZE, makeBookLab } from './book-lab.ts'
import { median } from './median.ts'
import { serveLab, withBrowser } from './served-lab.ts'

const BAR_MS = 50
/** Starts entered; each is 10 workloads x 2 repeats. */
const STARTS = 3
const RUNS_OF_START = 20
/** Between two keys, as fast as a practised hand on a number pad. */
const PAUSE_MS = 60

export const bench: Bench = {
  name: 'entry',
  what: `entry grid over ${BOOK_SIZE.runs.toLocaleString('en')} runs: milliseconds from a key to the frame that shows it, nine keys of ten, Enter (which saves) among them`,
  run: (_args, print) =>
    withBrowser(async (browser, folder) => {
      const home = join(folder, 'lab')
      const book = await makeBookLab(home)
      print('the workspace stands')
      const hub = await serveLab(home)
      try {
        const page = await (await browser.newContext({ viewport: { width: 1440, height: 900 } })).newPage()
        await page.goto(hub.url)
        await page.locator('main h1').first().waitFor()
        await page.goto(new URL(`/runs/enter?sheet=${book.sheetId}`, hub.url).href)
        await page.locator('.entry-grid input').first().waitFor()
        await page.evaluate(WATCH)
        for (let start = 0; start < STARTS; start++) {
          await page.locator('[data-cell="0-0"] input').and(page.locator(':focus')).waitFor()
          for (let run = 0; run < RUNS_OF_START; run++) {
            // What the workload usually reads: nothing is questioned.
            for (const key of [...Array.from(String(100 * ((run % 10) + 1) + start)), 'Enter']) {
              await page.keyboard.press(key)
              await page.waitForTimeout(PAUSE_MS)
            }
          }
        }
        const times: readonly KeyTime[] = await page.evaluate('globalThis.keyTimes')
        await page.getByText('Everything entered is saved.').waitFor()
        const digits = times.filter(({ key }) => key !== 'Enter').map(({ ms }) => ms)
        const enters = times.filter(({ key }) => key === 'Enter').map(({ ms }) => ms)
        const value = nineOfTen(times.map(({ ms }) => ms))
        print(`digits: median ${median(digits).toFixed(1)} ms, nine of ten ${nineOfTen(digits).toFixed(1)} ms; Enter: median ${median(enters).toFixed(1)} ms, nine of ten ${nineOfTen(enters).toFixed(1)} ms, worst ${Math.max(...enters).toFixed(1)} ms`)
        return {
          value, reference: BAR_MS, bar: `at most ${BAR_MS} ms for nine keys of ten, digits and Enter alike`, pass: nineOfTen(digits) <= BAR_MS && nineOfTen(enters) <= BAR_MS,
          detail: { keys: times.length, digits: { median: median(digits), nineOfTen: nineOfTen(digits), worst: Math.max(...digits) }, enter: { median: median(enters), nineOfTen: nineOfTen(enters), worst: Math.max(...enters) } },
        }
      } finally {
        await hub.stop()
      }
    }),
}

function nineOfTen(times: readonly number[]): number {
  return times.toSorted((a, b) => a - b)[Math.floor(times.length * 0.9)] ?? 0
}

interface KeyTime {
  readonly key: string
  readonly ms: number
}

/** Runs in the page: from the key's own time stamp to the task after the next frame was drawn. */
const WATCH = `(() => {
  globalThis.keyTimes = []
  addEventListener('keydown', ({ key, timeStamp }) => {
    requestAnimationFrame(() => {
      const channel = new MessageChannel()
      channel.port1.onmessage = () => globalThis.keyTimes.push({ key, ms: performance.now() - timeStamp })
      channel.port2.postMessage(null)
    })
  }, true)
})()`
