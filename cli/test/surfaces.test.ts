// Terminal, page and report say the same of every question, to the sentence and to the digit: on the demo, and on answers that are awkward to show.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath, pathToFileURL } from 'node:url'
import { chromium, type Browser } from 'playwright-core'
import { build } from 'vite'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { startHub, type Hub } from '@guardband/hub'
import { createLab, openLab, type Lab, type LabSources } from '@guardband/lab'
import { answerSchema, createIdFactory, type Answer, type AnswerScope } from '@guardband/model'
import { DEMO_LAB, demoRecords } from '@guardband/simlab/demo'
import { fillAwkward } from './awkward-lab.ts'
import { runCli } from './run-cli.ts'
import { readPage, readReport, readText, toldOf, type Told } from './told.ts'

const CHROMIUM = process.env['CHROMIUM'] ?? ''
const WEB = fileURLToPath(new URL('../../web', import.meta.url))
const SCOPES: readonly { readonly word: string; readonly scope: AnswerScope }[] = [{ word: 'these', scope: 'these samples' }, { word: 'like', scope: 'samples like these' }]

const folder = mkdtempSync(join(tmpdir(), 'guardband-surfaces-'))
const sources: LabSources = { now: wallClock, newId: createIdFactory({ now: wallClock, fillRandom }) }
let browser: Browser | undefined
afterAll(async () => {
  await browser?.close()
  rmSync(folder, { recursive: true, force: true })
})
beforeAll(async () => {
  if (CHROMIUM === '') return
  await build({ root: WEB, configFile: join(WEB, 'vite.config.ts'), logLevel: 'error', build: { outDir: join(folder, 'page'), emptyOutDir: true } })
  browser = await chromium.launch({ executablePath: CHROMIUM, args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'] })
}, 120_000)

describe.each([
  { name: 'demo', make: (path: string): Lab => createLab(path, { ...DEMO_LAB, who: 'simulated bench', records: demoRecords() }, sources) },
  { name: 'awkward', make: (path: string): Lab => fillAwkward(createLab(path, { name: 'Hollin & Pike', currency: 'EUR', simulated: true, who: 'Ada' }, sources)) },
])('the $name workspace', ({ name, make }) => {
  const lab = join(folder, name)
  const answers: Answer[] = []
  let report = ''

  beforeAll(async () => {
    const made = make(lab)
    const count = made.questions().length
    await made.close()
    for (let number = 1; number <= count; number++) answers.push(answerSchema.parse(JSON.parse((await cli('ask', String(number), '--json')).out)))
    report = (await cli('report', ...answers.map((_, index) => String(index + 1)), '--title', 'All answers')).out.trim()
  }, 120_000)

  async function cli(...args: readonly string[]): Promise<{ readonly out: string }> {
    const result = await runCli({ folder }, ...args, '--in', lab)
    expect([args, result.code, result.err]).toEqual([args, 0, ''])
    return result
  }

  it('has its answers told by the terminal as they are', { timeout: 120_000 }, async () => {
    expect(answers.length).toBeGreaterThan(2)
    if (name === 'awkward') expect(answers.map(({ status, cautions, estimates }) => [status, cautions.filter(({ severity }) => severity === 'stops').length, estimates.some(({ low }) => low !== null)])).toEqual(AWKWARD)
    for (const [index, answer] of answers.entries()) {
      for (const { word, scope } of SCOPES) {
        const told = readText((await cli('ask', String(index + 1), '--scope', word)).out)
        const { table, ...rest } = toldOf(answer, scope)
        expect({ ...told, table: told.table.length }).toEqual({ ...rest, table: table.length })
        expect(told.table).toEqual(table.map((cells) => cells.filter((cell) => cell !== '').join(' ')))
      }
    }
  })

  it.skipIf(CHROMIUM === '')('has its answers told by page and report as they are', { timeout: 240_000 }, async () => {
    if (browser === undefined) throw new Error('the browser was started before')
    const hub = await serve(openLab(lab, sources))
    const context = await browser.newContext({ viewport: { width: 1440, height: 1000 }, reducedMotion: 'reduce' })
    try {
      const [page, published] = [await context.newPage(), await context.newPage()]
      await published.goto(pathToFileURL(report).href)
      await page.goto(hub.url)
      await page.waitForURL(`http://127.0.0.1:${hub.port}/`)
      for (const [index, answer] of answers.entries()) {
        for (const { word, scope } of SCOPES) {
          const expected = toldOf(answer, scope)
          await page.goto(`http://127.0.0.1:${hub.port}/questions/${answer.question.id}?scope=${word}`)
          const [onPage, inReport]: readonly Told[] = [await readPage(page), await readReport(published, index, scope)]
          expect([answer.question.title, scope, 'page', onPage]).toEqual([answer.question.title, scope, 'page', expected])
          expect([answer.question.title, scope, 'report', inReport]).toEqual([answer.question.title, scope, 'report', expected])
        }
      }
    } finally {
      await context.close()
      await hub.close()
    }
  })
})

/** Of each awkward answer: whether it has figures, how many cautions stop it, whether any interval is drawn. */
const AWKWARD = [['computed', 0, true], ['computed', 1, true], ['computed', 0, false], ['no answer', 0, false]]

function serve(lab: Lab): Promise<Hub> {
  return startHub({
    lab, host: '127.0.0.1', port: 0, webFolder: join(folder, 'page'), who: 'Ada', sources: { now: wallClock, fillRandom, say: () => undefined },
    createOwnLab: () => Promise.reject(new Error('no other workspace is made here')),
  })
}

function wallClock(): number {
  return Date.now()
}

function fillRandom(bytes: Uint8Array): void {
  crypto.getRandomValues(bytes)
}
