// From the command to the page: how long until the demo workspace stands in an open browser, once everything is installed and built.
import { createLab } from '@guardband/lab'
import { createIdFactory } from '@guardband/model'
import { DEMO_LAB, demoRecords } from '@guardband/simlab/demo'
import { randomFillSync } from 'node:crypto'
import { join } from 'node:path'
import type { Bench } from './bench.ts'
import { median } from './median.ts'
import { serveLab, withBrowser } from './served-lab.ts'

const BAR_MS = 2000
const ROUNDS = 5

export const bench: Bench = {
  name: 'start',
  what: `start to page: milliseconds from the command to the first page of the demo workspace, median of ${ROUNDS}`,
  run: (_args, print) =>
    withBrowser(async (browser, folder) => {
      const home = join(folder, 'demo')
      const sources = { now: Date.now, newId: createIdFactory({ now: Date.now, fillRandom: (bytes) => void randomFillSync(bytes) }) }
      await createLab(home, { ...DEMO_LAB, who: 'simulated bench', records: demoRecords().filter((record) => record.kind !== 'lab') }, sources).close()
      const times: number[] = []
      for (let round = 0; round < ROUNDS; round++) {
        const page = await browser.newPage()
        const from = performance.now()
        const hub = await serveLab(home)
        const listening = performance.now() - from
        await page.goto(hub.url)
        await page.locator('main h1').first().waitFor()
        times.push(performance.now() - from)
        print(`address after ${listening.toFixed(0)} ms, page after ${times[round].toFixed(0)} ms`)
        await page.close()
        await hub.stop()
      }
      const value = median(times)
      return { value, reference: BAR_MS, bar: `at most ${BAR_MS} ms`, pass: value <= BAR_MS, detail: { times } }
    }),
}
