// Whatever layout, encoding, separator and number style a table of runs is written in, it is read back to the same runs.
import { array, assert, boolean, constant, constantFrom, integer, oneof, property, record, type Arbitrary } from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { Encoding, IntakeChoices } from '@guardband/model'
import { newLab } from './support.ts'

interface Written {
  readonly sample: string
  readonly tune: string
  readonly workload: string
  /** Hundredths, so that every style writes it exactly. */
  readonly value: number | 'crash'
}

const WORKLOADS = ['tile render', 'Größenprüfung', 'audio bounce, one core', 'say "photo stack"'] as const

const run: Arbitrary<Written> = record({
  sample: constantFrom('A7', 'B2', 'C 3'),
  tune: constantFrom('65 W', '95 W', 'leise, grün'),
  workload: constantFrom(...WORKLOADS),
  value: oneof({ weight: 9, arbitrary: integer({ min: 1, max: 99_999_999 }) }, { weight: 1, arbitrary: constant('crash' as const) }),
})

const style = record({
  layout: constantFrom('long' as const, 'wide' as const),
  encoding: constantFrom<Encoding | 'utf-8 with mark'>('utf-8', 'utf-8 with mark', 'utf-16le', 'utf-16be', 'windows-1252'),
  separator: constantFrom(',', ';', '\t', '|'),
  decimal: constantFrom('.' as const, ',' as const),
  grouped: boolean(),
  unit: constantFrom('in header' as const, 'in cells' as const),
  lineEnd: constantFrom('\n', '\r\n'),
  preamble: boolean(),
})
type Style = typeof style extends Arbitrary<infer Value> ? Value : never

describe('a table of random runs', () => {
  it('in any layout, encoding and number style is read back to the same runs', () => {
    assert(
      property(array(run, { minLength: 1, maxLength: 12 }), style, (runs, how) => {
        const lab = newLab()
        // Which mark is before decimals may be open in a short table; a person would be asked.
        // So they would where nothing but failures stands below names alone: neither figure nor unit tells results from remarks.
        const open = how.layout === 'wide' && how.unit === 'in cells' && runs.every(({ value }) => value === 'crash')
        const choices: IntakeChoices = { decimal: how.decimal, ...(how.encoding === 'windows-1252' ? { encoding: how.encoding } : {}), ...(open ? { wide: 'workloads' } : {}) }
        const reply = lab.intakeRuns({ text: encode(write(runs, how), how.encoding), file: 'random.csv', who: 'Ada Hollin', only: 'take', choices })
        expect(reply.problems).toEqual([])
        expect(reply.questions).toEqual([])
        expect(reply.lineCount.taken).toBe(runs.length)
        expect(readBack(lab)).toEqual(runs.map(asText).toSorted())
        expect(lab.check()).toEqual([])
      }),
      { numRuns: Number(process.env['GUARDBAND_TABLES'] ?? 60) },
    )
  }, 120_000)
})

function write(runs: readonly Written[], how: Style): string {
  const unit = how.unit === 'in cells' ? ' s' : ''
  const cell = (value: Written['value']): string => (value === 'crash' ? 'crash' : `${figure(value / 100, how)}${unit}`)
  const headUnit = how.unit === 'in header' ? ' (s)' : ''
  const rows =
    how.layout === 'long'
      ? [['sample', 'tune', 'start', 'workload', `time${how.unit === 'in header' ? ' (s)' : ' [s]'}`], ...runs.map((each, index) => [each.sample, each.tune, `s${index}`, each.workload, cell(each.value)])]
      : [['sample', 'tune', 'start', ...WORKLOADS.map((name) => `${name}${headUnit}`)], ...runs.map((each, index) => [each.sample, each.tune, `s${index}`, ...WORKLOADS.map((name) => (name === each.workload ? cell(each.value) : ''))])]
  const lines = rows.map((cells) => cells.map((text) => quoted(text, how.separator)).join(how.separator))
  return [...(how.preamble ? ['North bench', ''] : []), ...lines, ''].join(how.lineEnd)
}

function figure(value: number, { decimal, grouped }: Style): string {
  const [whole, part] = value.toFixed(2).split('.')
  return `${grouped ? whole.replaceAll(/\B(?=(\d{3})+$)/g, decimal === ',' ? '.' : ',') : whole}${decimal}${part}`
}

function quoted(text: string, separator: string): string {
  return text.includes(separator) || text.includes('"') ? `"${text.replaceAll('"', '""')}"` : text
}

/** Of these letters windows-1252 holds each at the same place as Unicode. */
function encode(text: string, encoding: Style['encoding']): Uint8Array {
  if (encoding === 'utf-8') return Buffer.from(text)
  if (encoding === 'utf-8 with mark') return Buffer.from(`\uFEFF${text}`)
  if (encoding === 'windows-1252') return Buffer.from(text, 'latin1')
  const little = Buffer.from(`\uFEFF${text}`, 'utf16le')
  return encoding === 'utf-16le' ? little : little.swap16()
}

function asText({ sample, tune, workload, value }: Written, index: number): string {
  return `${sample} | ${tune} | s${index} | ${workload} | ${value === 'crash' ? 'program died' : (value / 100).toFixed(2)}`
}

function readBack(lab: ReturnType<typeof newLab>): readonly string[] {
  return lab
    .runs({ from: 0, count: 500 })
    .rows.map(({ sample, tune, startLabel, workload, outcome, measures }) => `${sample.replace('unnamed processor ', '')} | ${tune ?? ''} | ${startLabel} | ${workload} | ${measures[0] === undefined ? outcome : measures[0].value.toFixed(2)}`)
    .toSorted()
}
