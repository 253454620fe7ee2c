import { readFileSync } from 'node:fs'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { SpokenError, type IntakeReply } from '@guardband/model'
import type { Lab } from '../index.ts'
import { COLUMNS } from '../intake/table/columns.ts'
import { folderState, newLab, testSources } from './support.ts'

const HEADER = 'part,sample,tune,start,workload,value'
const FILE = 'runs.csv'

function take(lab: Lab, text: string | Uint8Array, file = FILE): IntakeReply {
  return lab.intakeRuns({ text, file, who: 'Ada Hollin', only: 'take' })
}

function wide(columns: number): string {
  const figures = Array.from({ length: columns - 2 }, (_, place) => place + 1)
  return [`sample,tune,${figures.map((place) => `c${place}`).join(',')}`, `1,65 W,${figures.join(',')}`].join('\n')
}

function good(lab: Lab, text: string, file = FILE): IntakeReply {
  const reply = take(lab, text, file)
  expect(reply.problems).toEqual([])
  expect(reply.taken).toBe(true)
  return reply
}

describe('a good CSV of runs', () => {
  it('becomes parts, samples, tunes, workloads, a rig, starts and runs in one change', () => {
    const lab = newLab()
    const text = [
      'Part,SAMPLE,picked,origin,batch,tune,rig,start,how,time,firmware,system,ambient,workload,group,measure,unit,direction,value,outcome,phase,place,seconds,known',
      'Quillon 14,1,at random,retail,week 31,65 W,north bench,1,cold,2026-11-05T09:00:00+01:00,F1,image 7,21,tile render,render,time,s,lower,41.5,,,,42,read back',
      'Quillon 14,1,,,,65 W,north bench,1,,2026-11-05T09:02:00+01:00,,,23,tile render,,,,,41.7,,,,42,read back',
      'Quillon 14R,1,chosen,press,,65 W,north bench,1,warm,2026-11-05 10:00:00Z,F1,image 7,22,tile render,render,time,s,lower,,machine reset,heavy,core 3,11,read back',
    ].join('\n')
    const reply = good(lab, text)
    expect(reply).toMatchObject({
      change: 2, seenBefore: false, lines: 3, problemCount: 0,
      summary: { runs: 3, starts: 2, newParts: ['Quillon 14', 'Quillon 14R'], newSamples: ['1', '1'], newTunes: ['65 W'], newWorkloads: ['tile render'] },
    })
    expect(lab.list('sample').map(({ label, batch, origin, picked }) => ({ label, batch, origin, picked }))).toEqual([
      { label: '1', batch: 'week 31', origin: 'retail', picked: 'at random' }, { label: '1', batch: undefined, origin: 'press', picked: 'chosen' },
    ])
    const starts = lab.list('start')
    expect(starts.map(({ how, at, result, conditions }) => ({ how, at, result, conditions }))).toEqual([
      { how: 'cold', at: '2026-11-05T08:00:00.000Z', result: 'started', conditions: { firmware: 'F1', systemImage: 'image 7', ambient: 22 } },
      { how: 'warm', at: '2026-11-05T10:00:00.000Z', result: 'started', conditions: { firmware: 'F1', systemImage: 'image 7', ambient: 22 } },
    ])
    expect(lab.list('in force').map(({ known, tuneId }) => ({ known, tuneId }))).toEqual(starts.map(({ tuneId }) => ({ known: 'read back', tuneId })))
    expect(lab.list('workload')[0]).toMatchObject({ name: 'tile render', group: 'render', measures: [{ name: 'time', unit: 's', direction: 'lower is better' }] })
    expect(lab.runs({ from: 0, count: 10 })).toMatchObject({
      total: 3,
      rows: [
        { startLabel: '1', rig: 'north bench', sample: 'Quillon 14R 1', tune: '65 W', asked: '65 W', known: 'read back', outcome: 'machine reset', place: 'core 3', measures: [] },
        { sample: 'Quillon 14 1', workload: 'tile render', outcome: 'scored', measures: [{ name: 'time', value: 41.7, unit: 's' }] },
        { at: '2026-11-05T08:00:00.000Z', measures: [{ value: 41.5 }] },
      ],
    })
    expect(lab.list('suite')[0]).toMatchObject({ name: 'All workloads', items: [{ measure: 'time', weight: 1 }] })
    expect(lab.changes({ count: 1 })[0]).toMatchObject({ who: 'Ada Hollin', what: 'Took in 3 runs of 2 starts from runs.csv' })
    expect(lab.check()).toEqual([])
  })

  it('needs six columns only; what is left out has its default', () => {
    const lab = newLab()
    good(lab, `${HEADER}\nQuillon 14,1,65 W,1,code build,1250\n`)
    expect(lab.list('workload')[0].measures).toEqual([{ name: 'score', unit: 'points', direction: 'higher is better' }])
    expect(lab.list('start')[0]).toMatchObject({ how: 'cold', order: 0 })
    expect(lab.list('in force')[0].known).toBe('unverified')
    expect(lab.list('rig')[0].name).toBe('bench')
    expect(lab.list('part')[0].slot).toBe('processor')
    expect(lab.list('sample')[0]).toMatchObject({ origin: 'unknown', picked: 'unknown' })
  })

  it.each([
    ['semicolons and decimal commas', 'part;sample;tune;start;workload;value\nQuillon 14;1;65 W;1;code build;1250,5\n'],
    ['tabs and decimal commas', 'part\tsample\ttune\tstart\tworkload\tvalue\nQuillon 14\t1\t65 W\t1\tcode build\t1250,5\n'],
    ['a byte order mark, Windows line ends, blank lines and trailing separators', '\uFEFFpart,sample,tune,start,workload,value,\r\nQuillon 14,1,65 W,1,code build,1250.5,\r\n\r\n,,,,,,\r\n'],
    ['quotes around a comma and doubled quotes', `${HEADER}\n"Quillon 14","1","65 W",1,"code build",1250.5`],
    ['columns in another order', 'value,workload,start,tune,sample,part\n1250.5,code build,1,65 W,1,Quillon 14'],
    ['an exponent', `${HEADER}\nQuillon 14,1,65 W,1,code build,1.2505e3`],
  ])('is read with %s', (_, text) => {
    const lab = newLab()
    good(lab, text)
    expect(lab.runs({ from: 0, count: 1 }).rows[0]).toMatchObject({ sample: 'Quillon 14 1', workload: 'code build', measures: [{ value: 1250.5 }] })
  })

  it('keeps quoted separators and quotes in names', () => {
    const lab = newLab()
    good(lab, `${HEADER}\nQuillon 14,1,"65 W, ""quiet""",1,"audio bounce, one core",1250`)
    expect(lab.runs({ from: 0, count: 1 }).rows[0]).toMatchObject({ tune: '65 W, "quiet"', workload: 'audio bounce, one core' })
  })

  it('finds what is there by name, fills in what was unknown of a sample and makes only the rest', () => {
    const lab = newLab()
    good(lab, `${HEADER}\nQuillon 14,1,65 W,1,code build,1250`)
    const reply = good(lab, `${HEADER},picked,batch\nQuillon 14,1,95 W,1,code build,1300,at random,week 31`, 'more.csv')
    expect(reply.summary).toEqual({ runs: 1, starts: 1, newParts: [], newSamples: [], newTunes: ['95 W'], newWorkloads: [] })
    expect(lab.list('sample')).toMatchObject([{ picked: 'at random', batch: 'week 31' }])
    expect(lab.list('assembly').length).toBe(1)
    expect(lab.list('start').map(({ order }) => order)).toEqual([0, 1])
    expect(lab.list('suite').length).toBe(1)
  })

  it('adds new workloads to the suite of all, but not one that a person took out', () => {
    const lab = newLab()
    good(lab, `${HEADER}\nQuillon 14,1,65 W,1,code build,1250\nQuillon 14,1,65 W,1,photo stack,90`)
    const [suite] = lab.list('suite')
    lab.apply({ who: 'Ada Hollin', what: 'Left photo stack out', items: [{ before: suite, after: { ...suite, items: suite.items.slice(0, 1) } }] })
    good(lab, `${HEADER}\nQuillon 14,1,65 W,1,photo stack,91\nQuillon 14,1,65 W,1,archive pack,10`, 'more.csv')
    const names = new Map(lab.list('workload').map(({ id, name }) => [id, name]))
    expect(lab.list('suite')[0].items.map(({ workloadId }) => names.get(workloadId))).toEqual(['code build', 'archive pack'])
  })

  it('puts lines with the same order into one run with several measures, in the workload’s own units', () => {
    const lab = newLab()
    good(lab, `part,sample,tune,start,workload,order,measure,unit,direction,value\nQuillon 14,1,65 W,1,code build,4,time,s,lower,60\nQuillon 14,1,65 W,1,code build,4,power,W,lower,65\nQuillon 14,1,65 W,1,code build,5,time,min,lower,1.5`)
    expect(lab.list('run').map(({ order, measures }) => ({ order, measures }))).toEqual([
      { order: 4, measures: [{ name: 'time', value: 60 }, { name: 'power', value: 65 }] },
      { order: 5, measures: [{ name: 'time', value: 90 }] },
    ])
  })

  it('keeps a live change within a start as two records of what was in force', () => {
    const lab = newLab()
    good(lab, `part,sample,tune,start,how,time,workload,value\nQuillon 14,1,65 W,1,cold,2026-11-05T09:00Z,code build,1250\nQuillon 14,1,95 W,1,live,2026-11-05T09:10Z,code build,1300`)
    expect(lab.list('start')).toMatchObject([{ how: 'cold', at: '2026-11-05T09:00:00.000Z' }])
    expect(lab.list('in force').map(({ from }) => from)).toEqual(['2026-11-05T09:00:00.000Z', '2026-11-05T09:10:00.000Z'])
  })

  it('makes no run of a start that never ran, and counts runs at fallback for no tune', () => {
    const lab = newLab()
    const reply = good(lab, `part,sample,tune,start,workload,value,outcome\nQuillon 14,1,65 W,1,,,no start\nQuillon 14,1,65 W,2,,,fallback start\nQuillon 14,1,65 W,2,code build,900,`)
    expect(reply.summary).toMatchObject({ runs: 1, starts: 2 })
    expect(lab.list('start').map(({ result }) => result)).toEqual(['no start', 'fallback start'])
    expect(lab.list('in force').map(({ tuneId }) => tuneId)).toEqual([undefined])
    expect(lab.runs({ from: 0, count: 1 }).rows[0]).toMatchObject({ tune: null, asked: '65 W' })
  })

  it('may hold values at or below zero where they compare as differences', () => {
    const lab = newLab()
    good(lab, `part,sample,tune,start,workload,measure,unit,direction,value\nQuillon 14,1,65 W,1,code build,over ambient,degC,lower,-1.5`)
    good(lab, `part,sample,tune,start,workload,measure,value\nQuillon 14,1,65 W,1,code build,over ambient,0`, 'more.csv')
    expect(lab.list('run').map(({ measures }) => measures[0].value)).toEqual([-1.5, 0])
  })

  it('is only looked at in a preview: not a byte of the folder changes', () => {
    const lab = newLab()
    const before = folderState(lab.folder)
    const reply = lab.intakeRuns({ text: `${HEADER}\nQuillon 14,1,65 W,1,code build,1250`, file: FILE, who: 'Ada Hollin', only: 'preview' })
    expect(reply).toMatchObject({ taken: false, change: null, seenBefore: false, summary: { runs: 1, newParts: ['Quillon 14'] } })
    expect(folderState(lab.folder)).toEqual(before)
  })

  it('is recognised when it comes again, until its change was taken back', () => {
    const lab = newLab()
    const text = `${HEADER}\nQuillon 14,1,65 W,1,code build,1250`
    const { change } = good(lab, text)
    expect(take(lab, text, 'renamed.csv')).toMatchObject({ taken: false, seenBefore: true, change: null })
    expect(lab.info().counts.runs).toBe(1)
    lab.undo(change ?? 0, { who: 'Ada Hollin', why: 'wrong bench' })
    expect(lab.info().counts).toMatchObject({ runs: 0, parts: 0 })
    expect(good(lab, text).taken).toBe(true)
  })

  it('without a part belongs to the sample of that label, else to a part without a name', () => {
    const lab = newLab()
    good(lab, `${HEADER}\nQuillon 14,A7,65 W,1,code build,1250`)
    good(lab, 'sample,tune,start,workload,value\nA7,65 W,1,code build,1251\nB2,65 W,1,code build,1252', 'more.csv')
    expect(lab.parts().map(({ part, samples }) => [part.name, samples.map(({ sample, runs }) => [sample.label, runs])])).toEqual([
      ['Quillon 14', [['A7', 2]]], ['unnamed processor', [['B2', 1]]],
    ])
  })
})

const ROW = 'Quillon 14,1,65 W,1,code build'
const plain = (value: string) => `${HEADER}\n${ROW},${value}`
const WIDE = 'part,sample,tune,start,workload,value,'

describe('a bad CSV of runs takes nothing in and says where and how to mend it', () => {
  it.each<readonly [string, string, readonly string[]]>([
    ['an empty file', '', ['runs.csv: the file is empty. Put a header line and at least one run in it.']],
    ['a file of blank lines', '\n \n\n', ['runs.csv: the file is empty. Put a header line and at least one run in it.']],
    ['a header without runs', `${HEADER}\n`, ['runs.csv, line 1: the file has a header but no runs. Put at least one run below it.']],
    ['a column twice', `${HEADER},value\n${ROW},1,2`, ['runs.csv, line 1, column value: the column "value" comes twice. Keep one of them.']],
    ['zero', plain('0'), ['runs.csv, line 2, column value: a value in points must be above zero; got 0. Leave the cell empty for a run that failed, and give its outcome.']],
    ['a negative value', `${HEADER},unit\n${ROW},-3,s`, ['runs.csv, line 2, column value: a value in s must be above zero; got -3. Leave the cell empty for a run that failed, and give its outcome.']],
    ['an infinite value', plain('inf'), ['runs.csv, line 2, column value: a value must be finite; got inf. Leave the cell empty and give the outcome.']],
    ['an overflowing value', plain('1e999'), ['runs.csv, line 2, column value: a value must be finite; got 1e999. Leave the cell empty and give the outcome.']],
    ['neither value nor outcome', plain(''), ['runs.csv, line 2, column value: there is neither a value nor an outcome. Give the value, or say in "outcome" what happened.']],
    ['a scored run without a value', `${WIDE}outcome\n${ROW},,scored`, ['runs.csv, line 2, column value: the run is marked as scored but has no value. Give the value, or another outcome.']],
    ['an unknown way of knowing', `${WIDE}known\n${ROW},5,guessed`, ['runs.csv, line 2, column known: "guessed" is none of its words. Use one of: read back, measured, seen by a person, unverified.']],
    ['a day that does not exist', `${WIDE}time\n${ROW},5,2026-02-30T09:00:00Z`, ['runs.csv, line 2, column time: "2026-02-30T09:00:00Z" is not a time. Write it as 2026-11-05T14:30:00+01:00.']],
    ['a short line', `${HEADER}\nQuillon 14,1,65 W\n${ROW},5`, ['runs.csv, line 2: the line has 3 cells; the header has 6. Put quotes around a value that holds a comma, or separate columns by semicolons.']],
    ['a long line', `${HEADER}\n${ROW},12,5`, ['runs.csv, line 2: the line has 7 cells; the header has 6. Put quotes around a value that holds a comma, or separate columns by semicolons.']],
    ['an unclosed quote', `${HEADER}\n"Quillon 14,1,65 W,1,code build,5\n${ROW},6\n${ROW},7`, [
      'runs.csv, line 2: a quote is opened and not closed on this line. Close it, or double a quote that belongs to the text.',
    ]],
    ['two unclosed quotes that would swallow a row', `${HEADER}\nQuillon 14,"1,65 W,1,code build,5\n${ROW},6\nQuillon 14,1",65 W,1,code build,5`, [
      'runs.csv, line 2: a quote is opened and not closed on this line: it runs on over 3 lines of the table. Close it, or double a quote that belongs to the text.',
      'runs.csv, line 4: a quote stands in the middle of a cell. Put the whole cell in quotes and double the quote inside it.',
    ]],
    ['quotes in the middle of a cell', `${HEADER}\n${ROW},6\nQuillon "14",1,65 W,1,code build,5`, ['runs.csv, line 3: a quote stands in the middle of a cell. Put the whole cell in quotes and double the quote inside it.']],
    ['an empty sample', `${HEADER}\nQuillon 14,,65 W,1,code build,5`, ['runs.csv, line 2, column sample: the cell is empty. Every run needs one.']],
    ['a fractional order', `${WIDE}order\n${ROW},5,1.5`, ['runs.csv, line 2, column order: the order must be a whole number from 0; got 1.5. Count the runs of a start 0, 1, 2.']],
    ['an order twice', `${WIDE}order\n${ROW},5,1\n${ROW},6,1`, ['runs.csv, line 3, column order: the run with order 1 of start "1" comes again (line 2). Take the line out, or give the run another order.']],
    ['negative seconds', `${WIDE}seconds\n${ROW},5,-1`, ['runs.csv, line 2, column seconds: seconds must not be negative; got -1. Leave the cell empty where the time is not known.']],
    ['an ambient temperature in millidegrees', `${WIDE}ambient\n${ROW},5,21500`, ['runs.csv, line 2, column ambient: an ambient temperature lies between -100 and 100 degC; got 21500. Give it in degC.']],
    ['two firmwares in one start', `${WIDE}firmware\n${ROW},5,F1\n${ROW},6,F2`, ['runs.csv, line 3, column firmware: start "1" has "F2" here and "F1" on line 2. Within one start it stays the same; give the other runs another start.']],
    ['a start both cold and warm', `${WIDE}how\n${ROW},5,cold\n${ROW},6,warm`, ['runs.csv, line 3, column how: start "1" came about "warm" here and "cold" on line 2. Give these runs a start of their own.']],
    ['a failed start with runs', `${WIDE}outcome\n${ROW},5,\n${ROW},,no start`, ['runs.csv, line 3, column outcome: start "1" says "no start" here, but has runs (line 2). Give the failed start a label of its own.']],
    ['one sample picked in two ways', `${WIDE}picked\n${ROW},5,at random\n${ROW},6,chosen`, ['runs.csv, line 3, column picked: sample "1" has picked "at random" already; this line says "chosen". Make them agree, or change the sample first.']],
    ['a part in two slots', `${WIDE}slot\n${ROW},5,processor\n${ROW},6,memory`, ['runs.csv, line 3, column slot: part "Quillon 14" sits in the slot processor; this line says memory. Correct the slot, or give the other part another name.']],
    ['one measure in two directions', `${WIDE}direction\n${ROW},5,higher\n${ROW},6,lower`, ['runs.csv, line 3, column direction: for measure "score" of "code build" higher is better; this line says lower is better. Make them agree, or name another measure.']],
    ['a unit that does not convert', `${WIDE}unit\n${ROW},5,s\n${ROW},6,W`, ['runs.csv, line 3, column unit: measure "score" of "code build" is in s; W does not convert to it. Give the value in that unit, or name another measure.']],
    ['one workload in two groups', `${WIDE}group\n${ROW},5,office\n${ROW},6,render`, ['runs.csv, line 3, column group: workload "code build" is in group "office"; this line says "render". Make them agree.']],
  ])('%s', (_, text, sentences) => {
    const lab = newLab()
    const before = lab.head()
    const reply = take(lab, text)
    expect(reply.problems.map(({ sentence }) => sentence)).toEqual(sentences)
    expect(reply).toMatchObject({ taken: false, change: null, problemCount: sentences.length })
    expect(lab.head()).toBe(before)
    expect(lab.info().counts.parts).toBe(0)
  })

  it('one bad line among good ones keeps all of them out', () => {
    const lab = newLab()
    const reply = take(lab, `${HEADER}\n${ROW},5\n${ROW},0\n${ROW},6\n`)
    expect(reply).toMatchObject({ taken: false, lines: 3, problemCount: 1, problems: [{ line: 3, column: 'value' }] })
    expect(lab.info().counts.runs).toBe(0)
  })

  it('many problems are counted, the first fifty shown', () => {
    const reply = take(newLab(), `${HEADER}\n${Array.from({ length: 80 }, () => `${ROW},0`).join('\n')}`)
    expect(reply.problemCount).toBe(80)
    expect(reply.problems.map(({ line }) => line)).toEqual(Array.from({ length: 50 }, (_, index) => index + 2))
  })

  it('a table of more columns than a layout remembers is refused before its columns are guessed', () => {
    expect(take(newLab(), wide(1001)).problems.map(({ sentence }) => sentence)).toEqual([
      'runs.csv, line 1: the header names 1001 columns; at most 1000 are read. Turn the table round, so that each of them is a line.',
    ])
    expect(take(newLab(), wide(1000)).problems).toEqual([])
  })

  it('a label that two parts share must say its part', () => {
    const lab = newLab()
    good(lab, `${HEADER}\nQuillon 14,1,65 W,1,code build,5\nQuillon 14R,1,65 W,1,code build,6`)
    expect(take(lab, 'sample,tune,start,workload,value\n1,65 W,1,code build,5').problems[0].sentence).toBe(
      'runs.csv, line 2, column sample: 2 parts have a sample "1". Add a column "part" that says which is meant.',
    )
  })

  it('text that was decoded wrongly and files over 50 MB are refused with a sentence', () => {
    const lab = newLab(testSources())
    const said = (text: string | Uint8Array): string => {
      try {
        take(lab, text)
      } catch (error) {
        if (error instanceof SpokenError) return error.sentence
        throw error
      }
      return 'nothing was thrown'
    }
    const mend = 'Save it as UTF-8 (in a spreadsheet: "CSV UTF-8").'
    expect(said(`${HEADER}\nQuillon 14,1,65 W,1,Gr\uFFFD\uFFFDe,5`)).toBe(`runs.csv: line 2 holds characters that were not UTF-8. ${mend}`)
    expect(said(Buffer.from(`${HEADER}\n${ROW},5\n${ROW},6\n${ROW},7\n${ROW}\0,8`))).toBe(`runs.csv: line 5 holds a NUL, as UTF-16 files do. ${mend}`)
    expect(said(`${HEADER}\n${ROW}\0,8`)).toBe(`runs.csv: line 2 holds a NUL, as UTF-16 files do. ${mend}`)
    expect(said('x'.repeat(50 * 1024 * 1024 + 1))).toBe('runs.csv: the file has 51 MB; at most 50 MB are taken. Split it into several files.')
    expect(good(lab, Buffer.from(`\uFEFF${HEADER}\nQuillon 14,1,65 W,1,Gr\u00f6\u00dfe,5`, 'utf8').toString()).taken).toBe(true)
    expect(lab.list('workload')[0].name).toBe('Gr\u00f6\u00dfe')
  })
})

describe('files of other kinds', () => {
  it.each([
    ['89504e470d0a1a0a0000000d', 'a picture'], ['ffd8ffe000104a46', 'a picture'], ['474946383961', 'a picture'], ['255044462d312e37', 'a PDF'],
    ['504b030414000600', 'a spreadsheet file or another ZIP archive'], ['d0cf11e0a1b11ae1', 'a spreadsheet file of an older kind'], ['1f8b0800', 'a compressed file'],
  ])('that begin with %s are named as %s, with what to send instead', (start, what) => {
    expect(() => take(newLab(), Buffer.from(start, 'hex'))).toThrow(expect.objectContaining({ code: 'not-text', sentence: expect.stringContaining(`runs.csv: this is ${what}, not a text. `) }))
  })
})

const remarksOn = (lab: Lab, text: string): readonly string[] => lab.intakeRuns({ text, file: FILE, who: 'Ada Hollin', only: 'preview' }).remarks
const oneRun = (part: string, sample: string, tune: string, workload: string): string => `${HEADER}\n${part},${sample},${tune},2,${workload},6\n`
const near = (kind: string, fresh: string, known: string): string => `New ${kind} "${fresh}" beside "${known}": they differ in capitals or spaces only. Are they one?`

describe('what a preview remarks', () => {
  it('is a last line without an end, as in a file that was cut off', () => {
    const lab = newLab()
    expect(remarksOn(lab, `${HEADER}\n${ROW},125`)).toEqual(['The last line has no end: is the file whole?'])
    for (const end of ['\n', '\r\n', '\r', '\n\n']) expect(remarksOn(lab, `${HEADER}\n${ROW},1250${end}`)).toEqual([])
    expect(good(lab, `${HEADER}\n${ROW},1250`).remarks).toHaveLength(1)
  })

  it('is a new name that differs from another one in capitals or spaces only, here or in the file', () => {
    const lab = newLab()
    good(lab, `${HEADER}\nQuillon 14,A 1,stock,1,code build,5\n`)
    expect(remarksOn(lab, oneRun('Quillon 14', 'A 1', 'Stock', 'code build'))).toEqual([near('tune', 'Stock', 'stock')])
    expect(remarksOn(lab, oneRun('quillon  14', 'a1', 'stock', 'Code Build'))).toEqual([near('part', 'quillon  14', 'Quillon 14'), near('workload', 'Code Build', 'code build')])
    expect(remarksOn(lab, oneRun('Quillon 14', 'a1', '95 W', 'code build'))).toEqual([near('sample', 'a1', 'A 1')])
    expect(remarksOn(lab, `${oneRun('Quillon 14', 'A 1', 'quiet', 'code build')}Quillon 14,A 1,Quiet,3,code build,7\n`)).toEqual([near('tune', 'Quiet', 'quiet')])
  })
})

describe('the guide', () => {
  it('shows an example that is taken in as it stands', () => {
    const guide = readFileSync(path.join(import.meta.dirname, '../../docs/guide/csv.md'), 'utf8')
    const example = /```csv\n([^`]*)```/.exec(guide)?.[1] ?? ''
    const lab = newLab()
    expect(good(lab, example).summary).toMatchObject({ runs: 4, starts: 2, newParts: ['Quillon 14', 'Quillon 14R'] })
    for (const column of COLUMNS) expect(guide).toContain(`\`${column}\``)
  })
})
