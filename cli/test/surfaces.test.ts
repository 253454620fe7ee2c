// Terminal, page and report say the same of every question, to the sentence and to the digit: on the demo, and on answers that are awkward to show.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { startHub, type Hub } from '@guardband/hub'
import { createLab, openLab, type Lab } from '@guardband/lab'
import { answerSchema, type Answer, type AnswerScope } from '@guardband/model'
import { DEMO_LAB, demoRecords } from '@guardband/simlab/demo'
import { fillAwkward } from './awkward-lab.ts'
import { runCli } from './run-cli.ts'
import { readPage, readReport, readText, toldOf, type Told } from './told.ts'
import { buildPage, CHROMIUM, hubSources, realSources, startBrowser } from './real-page.ts'

const SCOPES: readonly { readonly word: string; readonly scope: AnswerScope }[] = [{ word: 'these', scope: 'these samples' }, { word: 'like', scope: 'samples like these' }]

const folder = mkdtempSync(join(tmpdir(), 'guardband-surfaces-'))
let browser: Browser | undefined
afterAll(async () => {
  await browser?.close()
  rmSync(folder, { recursive: true, force: true })
})
beforeAll(async () => {
  if (CHROMIUM === '') return
  await buildPage(join(folder, 'page'))
  browser = await startBrowser()
}, 120_000)

describe.each([
  { name: 'demo', make: (path: string): Lab => createLab(path, { ...DEMO_LAB, who: 'simulated bench', records: demoRecords() }, realSources) },
  { name: 'awkward', make: (path: string): Lab => fillAwkward(createLab(path, { name: 'Hollin & Pike', currency: 'EUR', simulated: true, who: 'Ada' }, realSources)) },
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
    const hub = await serve(openLab(lab, realSources))
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
    lab, host: '127.0.0.1', port: 0, webFolder: join(folder, 'page'), who: 'Ada', sources: hubSources,
    createOwnLab: () => Promise.reject(new Error('no other workspace is made here')),
  })
}
