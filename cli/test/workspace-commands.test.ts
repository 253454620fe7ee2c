// From an empty folder to an answer and a report, by the command alone.
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { answerSchema } from '@guardband/model'
import { runCli, spawnCli, type CliResult } from './run-cli.ts'

const folder = mkdtempSync(join(tmpdir(), 'guardband-cli-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const cli = (...args: readonly string[]): Promise<CliResult> => runCli({ folder }, ...args)

/** Scores made up by hand: the second tune stands about two percent higher. */
const STARTS = [
  { tune: 'as delivered', values: [1004, 1005] }, { tune: 'quiet 95 W', values: [1017, 1018] }, { tune: 'as delivered', values: [995, 996] },
  { tune: 'quiet 95 W', values: [1022, 1023] }, { tune: 'as delivered', values: [1001, 1002] }, { tune: 'quiet 95 W', values: [1025, 1026] },
]
const HEADER = 'part,sample,picked,tune,rig,start,how,workload,measure,unit,direction,value'
const LINES = STARTS.flatMap(({ tune, values }, start) => values.map((value) => `Quillon 14,Q14-1,at random,${tune},north bench,s${start},cold,code build,score,1,higher is better,${value}`))

beforeAll(async () => {
  writeFileSync(join(folder, 'runs.csv'), `${[HEADER, ...LINES].join('\n')}\n`)
  writeFileSync(join(folder, 'broken.csv'), `${[HEADER, LINES[0], LINES[1].replace(/1005$/, 'inf')].join('\n')}\n`)
  const made = await cli('new', 'lab', '--name', 'Hollin & Pike', '--currency', 'EUR')
  expect([made.code, made.err]).toEqual([0, ''])
  const taken = await cli('take', 'runs.csv', '--to', 'lab')
  expect([taken.code, taken.err]).toEqual([0, ''])
  expect(taken.out).toContain('12 runs in 6 starts')
})

describe('take', () => {
  it('says that a file was taken in before, and changes nothing', async () => {
    const again = await cli('take', 'runs.csv', '--to', 'lab')
    expect(again).toEqual({ code: 0, out: `${join(folder, 'runs.csv')}: nothing new; all of it was taken in before\n`, err: `${join(folder, 'runs.csv')}: 6 of 6 starts are here already (runs.csv, change 2).\n` })
  })

  it('of a file that grew takes the new starts only, and says so in a preview too', async () => {
    await cli('new', 'grown', '--name', 'Grown')
    writeFileSync(join(folder, 'my.csv'), `${[HEADER, ...LINES.slice(0, 10)].join('\n')}\n`)
    await cli('take', 'my.csv', '--to', 'grown')
    writeFileSync(join(folder, 'my.csv'), `\uFEFF${[HEADER, ...LINES].join('\r\n')}\r\n`)
    const err = `${join(folder, 'my.csv')}: 5 of 6 starts are here already (my.csv, change 2). Only the rest comes in.\n`
    expect(await cli('take', 'my.csv', '--to', 'grown', '--preview')).toEqual({ code: 0, out: `${join(folder, 'my.csv')}: would take in 2 runs in 1 start\n`, err })
    expect(await cli('take', 'my.csv', '--to', 'grown')).toEqual({ code: 0, out: `${join(folder, 'my.csv')}: 2 runs in 1 start taken in, change 3\n`, err })
    expect((await cli('check', '--in', 'grown')).out).toContain('6 starts, 12 runs')
  })

  it('names file, line and column of what is wrong, takes nothing in, and ends with 1', async () => {
    const before = await cli('log', '--in', 'lab')
    const broken = await cli('take', 'broken.csv', '--to', 'lab')
    expect(broken.code).toBe(1)
    expect(broken.err).toMatch(/^\S+broken\.csv, line 3, column "value": a value must be finite; got inf\./)
    expect(broken.err).toContain('broken.csv: 3 lines = 1 before the runs + 1 taken + 1 with a problem.')
    expect(broken.out).toContain('nothing taken in; 1 problem')
    expect((await cli('log', '--in', 'lab')).out).toBe(before.out)
  })

  it('refuses what a table leaves open with the option that answers it, and takes that answer', async () => {
    await cli('new', 'asked', '--name', 'Asked')
    writeFileSync(join(folder, 'open.csv'), `${[HEADER, LINES[0], LINES[1].replace(/1005$/, 'quick')].join('\n')}\n`)
    const open = await cli('take', 'open.csv', '--to', 'asked')
    expect([open.code, open.out]).toEqual([1, `${join(folder, 'open.csv')}: nothing taken in; 1 question to be answered\n`])
    expect(open.err).toContain('What does "quick" mean (line 3, column value)?')
    expect(open.err).toContain('--word "quick=program died"')
    const answered = await cli('take', 'open.csv', '--to', 'asked', '--word', 'quick=program died')
    expect([answered.code, answered.err]).toEqual([0, ''])
    expect(answered.out).toContain('2 runs in 1 start')
  })

  it('only looks when asked to preview', async () => {
    await cli('new', 'other', '--name', 'Other')
    const preview = await cli('take', 'runs.csv', '--to', 'other', '--preview')
    expect([preview.code, preview.out]).toEqual([0, expect.stringContaining('would take in 12 runs in 6 starts; new: part "Quillon 14"')])
    expect((await cli('check', '--in', 'other')).out).toContain('0 starts, 0 runs')
  })

  it('says what is wrong with a file that is not there, an empty folder, a journal that is none', async () => {
    expect(await cli('take', 'none.csv', '--to', 'lab')).toMatchObject({ code: 1, err: `${join(folder, 'none.csv')}: there is no such file. Check the name.\n` })
    expect(await cli('take', 'lab/reports', '--to', 'lab')).toMatchObject({ code: 1, err: expect.stringContaining('no journal in this folder') })
    writeFileSync(join(folder, 'x.journal'), 'not a journal\n'.repeat(40))
    const refused = await cli('take', 'x.journal', '--to', 'lab')
    expect([refused.code, refused.out]).toEqual([1, `${join(folder, 'x.journal')}: nothing taken in\n`])
    const said = refused.err.trimEnd().split('\n')
    expect(said[0]).toMatch(new RegExp(`^${join(folder, 'x.journal')}: this is no journal`))
    expect([said.length, said.at(-1)]).toEqual([11, `${join(folder, 'x.journal')}: and 31 more like these.`])
  })
})

describe('hints', () => {
  it('name commands as they can be typed', () => {
    for (const name of readdirSync(join(import.meta.dirname, '..')).filter((file) => file.endsWith('.ts'))) {
      const code = readFileSync(join(import.meta.dirname, '..', name), 'utf8').replaceAll(/^\s*(\/\/|\/?\*).*$/gm, '')
      expect([name, code.match(/(?<!npx )guardband (take|ask|new|undo|questions|log|check|start|report|rig)\b/g)]).toEqual([name, null])
    }
  })

  it('count one as one', async () => {
    await cli('new', 'single', '--name', 'Single')
    expect((await cli('check', '--in', 'single')).out).toBe('Nothing amiss: 1 change, 0 starts, 0 runs, 0 reports.\n')
  })
})

describe('ask', () => {
  it('answers by names, keeps the question, and says the same by number, in JSON and in a report', { timeout: 120_000 }, async () => {
    const byNames = await cli('ask', '--faster', 'quiet 95 W', '--than', 'as delivered', '--in', 'lab')
    expect([byNames.code, byNames.err]).toEqual([0, ''])
    const again = await cli('ask', '--faster', 'Quiet 95 w', '--than', 'As Delivered', '--in', 'lab')
    expect(again.out).toBe(byNames.out)
    const listed = await cli('questions', '--in', 'lab')
    expect(listed.out.match(/^\d+ {2}/gm)).toHaveLength(1)
    expect((await cli('ask', '1', '--in', 'lab')).out).toBe(byNames.out)
    const answer = answerSchema.parse(JSON.parse((await cli('ask', '1', '--json', '--in', 'lab')).out))
    // The ratio of the geometric means of the three start means a side, by hand: (1017.5 1022.5 1025.5 / (1004.5 995.5 1001.5))^(1/3) = 1.02132.
    const overall = answer.estimates.find((estimate) => estimate.key === 'overall' && estimate.scope === 'these samples')
    expect(overall?.computed?.estimate).toBeCloseTo(Math.log((1017.5 * 1022.5 * 1025.5) / (1004.5 * 995.5 * 1001.5)) / 3, 5)
    const like = await cli('ask', '1', '--scope', 'like', '--in', 'lab')
    expect(like.code).toBe(0)
    expect(like.out).not.toBe(byNames.out)
    const report = await cli('report', '1', '--title', 'Two tunes', '--in', 'lab')
    expect(report.code).toBe(0)
    expect(existsSync(report.out.trim())).toBe(true)
    expect(readFileSync(report.out.trim(), 'utf8')).toContain('Two tunes')
    expect(await cli('check', '--in', 'lab')).toMatchObject({ code: 0, out: expect.stringContaining('Nothing amiss') })
  })

  it('makes another question where the smallest gain differs', async () => {
    const args = ['ask', '--faster', 'quiet 95 W', '--than', 'as delivered', '--in', 'lab', '--json', '--smallest']
    const [one, two] = [await cli(...args, '2'), await cli(...args, '3')]
    const ids = [one, two].map(({ out }) => answerSchema.parse(JSON.parse(out)).question.id)
    expect(ids[0]).not.toBe(ids[1])
  })

  it('refuses a suite or a smallest gain for a question whose own were fixed when it was asked', async () => {
    for (const args of [['1', '--smallest', '2'], ['1', '--suite', 'All workloads', '--smallest', '2'], ['--suite', 'All workloads']]) {
      expect(await cli('ask', ...args, '--in', 'lab')).toMatchObject({ code: 1, out: '', err: expect.stringMatching(/^a question keeps the suite and the smallest gain that it was asked with; got --.*ask a new one: npx guardband ask/) })
    }
  })

  it('reads a smallest gain with a decimal comma', async () => {
    const args = ['ask', '--faster', 'quiet 95 W', '--than', 'as delivered', '--in', 'lab', '--json', '--smallest']
    const [comma, point, percent] = [await cli(...args, '0,5'), await cli(...args, '0.5'), await cli(...args, '0,5 %')].map(({ out }) => answerSchema.parse(JSON.parse(out)).question.id)
    expect([comma, percent]).toEqual([point, point])
  })

  it('refuses what it cannot find with what there is', async () => {
    expect(await cli('ask', '--faster', 'turbo', '--than', 'as delivered', '--in', 'lab')).toMatchObject({
      code: 1, out: '', err: 'there is no tune or part "turbo" in this workspace. It has tunes "as delivered", "quiet 95 W" and parts "Quillon 14"; "PART at TUNE" names both.\n',
    })
    expect(await cli('ask', '99', '--in', 'lab')).toMatchObject({ code: 1, err: expect.stringContaining('there is no question "99"') })
    expect(await cli('ask', '--faster', 'quiet 95 W', '--in', 'lab')).toMatchObject({ code: 1, err: expect.stringContaining('both sides') })
    expect(await cli('ask', '--faster', 'quiet 95 W', '--than', 'quiet 95 W', '--in', 'lab')).toMatchObject({ code: 1, err: expect.stringContaining('both sides are') })
    expect(await cli('ask', '--smallest', '-1', '--in', 'lab')).toMatchObject({ code: 1, err: expect.stringContaining('more than 0') })
  })
})

describe('a name that would steer the terminal', () => {
  it('is shown with its characters made visible, and reads back from JSON as it was', { timeout: 60_000 }, async () => {
    const evil = 'red \u009b31m \u202eeliforp'
    writeFileSync(join(folder, 'evil.csv'), `${[HEADER, ...LINES.map((line) => line.replace('quiet 95 W', evil))].join('\n')}\n`)
    await cli('new', 'evil', '--name', 'Evil')
    await cli('take', 'evil.csv', '--to', 'evil')
    const steering = /[\p{Cc}\u202a-\u202e]/u
    const json = await cli('ask', '--faster', evil, '--than', 'as delivered', '--in', 'evil', '--json')
    expect(answerSchema.parse(JSON.parse(json.out)).sides[1]).toBe(evil)
    for (const args of [['ask', '1'], ['ask', '1', '--json'], ['questions'], ['log'], ['ask', '--faster', 'x', '--than', 'y']]) {
      const { out, err } = await cli(...args, '--in', 'evil')
      expect([args, steering.test((out + err).replaceAll('\n', ''))]).toEqual([args, false])
    }
  })
})

describe('log, undo and check', () => {
  it('show a change, take it back, and say so', async () => {
    await cli('new', 'undone', '--name', 'Undone')
    await cli('take', 'runs.csv', '--to', 'undone')
    const seq = /^ *(\d+) .*runs\.csv/m.exec((await cli('log', '--in', 'undone')).out)?.[1] ?? ''
    expect(await cli('undo', seq, '--why', 'wrong file', '--in', 'undone')).toMatchObject({ code: 0, out: expect.stringContaining(`Change ${seq} is taken back`) })
    expect((await cli('check', '--in', 'undone')).out).toContain('0 starts, 0 runs')
    expect((await cli('log', '--in', 'undone')).out).toContain('wrong file')
    expect(await cli('undo', 'x', '--in', 'undone')).toMatchObject({ code: 1, err: expect.stringContaining('a whole number above 0') })
    expect(await cli('undo', seq, '--in', 'undone')).toMatchObject({ code: 1, err: expect.stringContaining('taken back already') })
  })
})

describe('which workspace', () => {
  it('is the option, otherwise GUARDBAND_LAB, otherwise the current folder, otherwise a sentence', async () => {
    expect((await runCli({ folder, env: { GUARDBAND_LAB: 'lab' } }, 'check')).code).toBe(0)
    expect((await runCli({ folder: join(folder, 'lab') }, 'check')).code).toBe(0)
    expect(await cli('check')).toMatchObject({ code: 1, out: '', err: expect.stringContaining('there is no workspace in the current folder. Name one with --in FOLDER') })
    expect(await cli('check', '--in', 'nowhere')).toMatchObject({ code: 1, err: expect.stringContaining('guardband new "nowhere"') })
  })

  it('is not made where one is, or where other files are', async () => {
    expect(await cli('new', 'lab', '--name', 'Again')).toMatchObject({ code: 1, err: expect.stringContaining('there is a workspace in this folder already') })
    expect(await cli('new', '.', '--name', 'Here')).toMatchObject({ code: 1, err: expect.stringContaining('this folder holds other files') })
    expect(await cli('new', 'blank', '--name', '  ')).toMatchObject({ code: 1, err: expect.stringContaining('name must have') })
  })
})

describe('a disk that does not do as it should', () => {
  it('a damaged database gets one sentence from every command, and 1', { timeout: 120_000 }, async () => {
    await cli('new', 'damaged', '--name', 'Damaged')
    await cli('take', 'runs.csv', '--to', 'damaged')
    const file = join(folder, 'damaged', 'lab.db')
    const whole = readFileSync(file)
    const commands = [['check', '--in'], ['questions', '--in'], ['log', '--in'], ['ask', '1', '--in'], ['report', '1', '--in'], ['undo', '2', '--in'], ['take', 'runs.csv', '--to']]
    const damages: readonly (readonly [string, Uint8Array])[] = [
      ['all pages but the first', whole.map((byte, at) => (at < PAGE ? byte : 0xff))],
      ['the header', whole.map((byte, at) => (at < 100 ? 0 : byte))],
      ['cut off', whole.subarray(0, PAGE * 2)],
    ]
    for (const [what, bytes] of damages) {
      writeFileSync(file, bytes)
      for (const command of commands) {
        const { code, out, err } = await cli(...command, 'damaged')
        expect([what, command[0], code, (out + err).replaceAll(/\n$/g, '')]).toEqual([what, command[0], 1, expect.stringMatching(/^[^\n]*lab\.db is damaged[^\n]*Restore a copy of the workspace, or rebuild it[^\n]*$/)])
      }
    }
  })

  it('a folder that can not be made gets a sentence, and nothing is left', async () => {
    writeFileSync(join(folder, 'note.txt'), 'x')
    expect(await cli('new', 'note.txt/lab', '--name', 'X')).toMatchObject({ code: 1, err: `${join(folder, 'note.txt/lab')}: the folder can not be made: a file stands where a folder would have to be. Choose a folder that you may write to, on a local disk with room.\n` })
    expect(await cli('new', 'x'.repeat(300), '--name', 'X')).toMatchObject({ code: 1, err: expect.stringContaining('the name is too long') })
  })
})

/** Bytes of a page of the database. */
const PAGE = 4096

describe('a reader that has seen enough', () => {
  it('ends the command without a word', async () => {
    const child = spawnCli({ folder }, 'log', '--in', 'lab')
    child.stdout.destroy()
    const ended = new Promise<number | null>((resolve) => child.once('exit', (code) => resolve(code)))
    let err = ''
    for await (const part of child.stderr) err += String(part)
    expect([await ended, err]).toEqual([0, ''])
  })
})

describe('words that the command does not know', () => {
  it('are refused on stderr with 1', async () => {
    for (const args of [['frobnicate'], ['ask', '--loud'], ['start', '--port', '99999']]) {
      const result = await cli(...args)
      expect([args, result.code, result.out]).toEqual([args, 1, ''])
      expect(result.err).not.toMatch(/\n +at /)
    }
  })
})
