// The guide to a first answer, followed by its own commands with its own plan and programs, in an empty folder.
import { cpSync, existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { answerSchema, decodeJournal, planSchema, type Answer, type JournalBody } from '@guardband/model'
import { runCli, type CliResult } from './run-cli.ts'

const GUIDE = join(import.meta.dirname, '..', '..', 'docs', 'guide')
const folder = mkdtempSync(join(tmpdir(), 'guardband-first-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** Approvals go to the folder too: what is approved on this machine is no test's business. */
const place = { folder, env: { HOME: folder, XDG_CONFIG_HOME: join(folder, 'config') } }
const cli = (...args: readonly string[]): Promise<CliResult> => runCli(place, ...args)

/** The lines that the guide has its reader type, in order. */
const TYPED = [...readFileSync(join(GUIDE, 'first-answer.md'), 'utf8').matchAll(/^```sh\n(.*?)^```/gms)].flatMap(([, block]) => block.trim().split('\n'))

const STARTS = 2
const REPEATS = 2
const WORKLOADS = 2

/** What each typed command ended with, by the line. */
const done = new Map<string, CliResult>()

beforeAll(async () => {
  cpSync(join(GUIDE, 'first-answer'), join(folder, 'docs', 'guide', 'first-answer'), { recursive: true })
  for (const line of TYPED) {
    const [program, ...args] = words(line)
    if (line === 'npm start' || line === 'npx guardband start my-lab') continue
    if (program === 'cp') {
      cpSync(join(folder, args[1]), join(folder, args[2]), { recursive: true })
      lessenPlan(join(folder, args[2], 'plan.json'))
    } else if (program === 'npx' && args[0] === 'guardband') done.set(line, await follow(args.slice(1)))
    else throw new Error(`the guide has a command that this test can't follow: ${line}`)
  }
}, 300_000)

/** As the reader does: repeats the code that is shown, and says it where root is all there is. */
async function follow(args: readonly string[]): Promise<CliResult> {
  if (args[1] === 'run' && process.getuid?.() === 0) return cli(...args, '--as-root')
  const result = await cli(...args)
  if (args[1] !== 'approve') return result
  return cli(...args, '--code', /code ([0-9a-f-]{19})$/m.exec(result.out)?.[1] ?? '')
}

function words(line: string): readonly string[] {
  return [...line.matchAll(/"([^"]*)"|(\S+)/g)].map(([, quoted, plain]) => quoted ?? plain)
}

function lessenPlan(file: string): void {
  const plan = planSchema.parse(JSON.parse(readFileSync(file, 'utf8')))
  if (plan.design === undefined) throw new Error('the guide speaks of a plan with a design')
  expect(plan.design).toMatchObject({ startsPerTune: 3, repeats: 5, workloads: { length: WORKLOADS } })
  writeFileSync(file, JSON.stringify({ ...plan, design: { ...plan.design, startsPerTune: STARTS, repeats: REPEATS } }))
}

function endOf(start: string): CliResult {
  const found = [...done].find(([line]) => line.startsWith(`npx guardband ${start}`))
  if (found === undefined) throw new Error(`the guide must have a command that begins with "${start}"`)
  return found[1]
}

async function answerNow(): Promise<Answer> {
  return answerSchema.parse(JSON.parse((await cli('ask', '1', '--json', '--in', 'my-lab')).out))
}

function journalBodies(): readonly JournalBody[] {
  const journals = join(folder, 'my-bench', 'rig-first-answer', 'journals')
  return readdirSync(journals).toSorted().flatMap((name) => {
    const { entries, damage } = decodeJournal(readFileSync(join(journals, name)))
    expect(damage).toEqual([])
    return entries.map(({ body }) => body)
  })
}

describe('the guide to a first answer', () => {
  it('has commands that all end well and say nothing on the error output', () => {
    expect(done.size).toBe(6)
    for (const [line, { code, err }] of done) expect([line, code, err]).toEqual([line, 0, ''])
  })

  it('puts each tune in force as often as planned, reads it back, and scores every run by line and by JSON', () => {
    const bodies = journalBodies()
    const held = bodies.filter((body) => body.type === 'in force')
    expect(held.map(({ tune, known, observed }) => [tune, known, observed.map(({ found }) => found)])).toEqual([
      ['one thread', 'read back', [1]], ['two threads', 'read back', [2]], ['two threads', 'read back', [2]], ['one thread', 'read back', [1]],
    ])
    const ends = bodies.filter((body) => body.type === 'end')
    expect(ends).toHaveLength(2 * STARTS * REPEATS * WORKLOADS)
    expect(ends.filter(({ outcome }) => outcome !== 'scored')).toEqual([])
    for (const name of ['rate', 'time']) {
      const values = ends.flatMap(({ measures }) => measures.filter((measure) => measure.name === name).map(({ value }) => value))
      expect([name, values.length, values.every((value) => value > 0)]).toEqual([name, ends.length / WORKLOADS, true])
    }
  })

  it('brings all runs of the journals into the workspace, once', async () => {
    const bench = join(folder, 'my-bench', 'rig-first-answer')
    expect(endOf('take').out).toBe(`${bench}: 16 runs from 4 journals taken in, changes 2 to 5\n`)
    const [before, answer] = [await cli('log', '--in', 'my-lab'), await answerNow()]
    expect(await cli('take', 'my-bench/rig-first-answer', '--to', 'my-lab')).toEqual({ code: 0, err: '', out: `${bench}: nothing new in 4 journals\n` })
    expect([await cli('log', '--in', 'my-lab'), await answerNow()]).toEqual([before, answer])
    expect(await cli('check', '--in', 'my-lab')).toMatchObject({ code: 0, out: expect.stringContaining('4 starts, 16 runs') })
  })

  it('ends in an answer about these samples that has the figures of its journals, and none about samples like these', async () => {
    const answer = await answerNow()
    expect(answer).toMatchObject({
      status: 'computed', simulated: false, scope: 'these samples', sides: ['one thread', 'two threads'],
      basis: { samples: [1, 1], starts: [STARTS, STARTS], runs: 16, failed: 0, setAside: 0 },
    })
    for (const estimate of answer.estimates.filter(({ scope }) => scope === 'samples like these')) expect([estimate.key, estimate.low, estimate.high]).toEqual([estimate.key, null, null])
    expect(answer.views.find(({ scope }) => scope === 'samples like these')?.unavailable).not.toBeUndefined()
    const cautions = answer.cautions.map(({ code, severity }) => [code, severity])
    expect(cautions).toContainEqual(['one-sample', 'warns'])
    expect(cautions).toContainEqual(['live-only', 'warns'])
    // The plan fixed the limit before its runs, so the answer has nothing to say against it.
    expect(cautions.map(([code]) => code)).not.toContain('limit-after-data')
    expect(answer.band).toContain('under 1 %, fixed on 1 November 2026')

    // With equal counts everywhere the overall is the mean over all runs of the log ratio, seconds turned over: straight from the journals.
    const bodies = journalBodies()
    const inForce = new Map(bodies.flatMap((body) => (body.type === 'in force' ? [[body.inForceId, body.tune]] : [])))
    const tunes = new Map(bodies.flatMap((body) => (body.type === 'begin' ? [[body.runId, inForce.get(body.inForceId)]] : [])))
    const sums = { 'one thread': 0, 'two threads': 0 }
    for (const end of bodies) {
      if (end.type !== 'end') continue
      const tune = tunes.get(end.runId) === 'one thread' ? 'one thread' : 'two threads'
      for (const { name, value } of end.measures) sums[tune] += name === 'time' ? -Math.log(value) : Math.log(value)
    }
    const expected = (sums['two threads'] - sums['one thread']) / (STARTS * REPEATS * WORKLOADS)
    const overall = answer.estimates.find(({ key, scope }) => key === 'overall' && scope === 'these samples')
    expect(overall?.computed?.estimate).toBeCloseTo(expected, 12)
  })

  it('prints the answer and a report that is there', async () => {
    expect((await cli('ask', '1', '--in', 'my-lab')).out).toBe(endOf('ask').out)
    const path = endOf('report').out.trim()
    expect(existsSync(path)).toBe(true)
    expect(readFileSync(path, 'utf8')).toContain('No power-on between tunes')
  })
})
