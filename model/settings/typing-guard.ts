/**
 * Questions a setting that was probably mistyped: ten times off its neighbours, millivolts for volts, a step that boards don't take. Never changes it.
 *
 * Neighbours are the range that a person confirmed for the kind, else the figures that other tunes ask for, else the same setting at other places of the
 * same tune or other rows of the same table. A figure outside a confirmed range is always questioned. Against mere figures of others only one that lies
 * several times beyond the furthest is, since going somewhat further is what tuning is: the fewer neighbours, the more times. Figures around zero
 * (offsets) are held against the largest only, as their size goes down to nothing by design. How often it errs: `npm run bench -- typing-guard`.
 */
import { counted } from '../figures.ts'
import { nearest } from '../nearest.ts'
import { settingKey } from '../ceilings.ts'
import { settingText, type Asked, type Setting } from '../records/tune.ts'
import { convert, findUnit, UNITS, unitText } from '../units.ts'
import { readUnit } from './read-unit.ts'
import { scopeName } from './setting-line.ts'
import { figuresOf, type KnownSetting } from './setting-book.ts'

export interface Doubt {
  readonly code: 'unit-unknown' | 'unit-missing' | 'other-quantity' | 'other-shape' | 'other-mode' | 'not-a-figure' | 'outside' | 'other-sign' | 'off-step'
  /** What is odd, and the likely mend as a question. */
  readonly sentence: string
  readonly mends: readonly Mend[]
}

export interface Mend {
  /** For the button: "1.35 V". */
  readonly text: string
  readonly asked: Asked
}

export interface GuardInput {
  readonly setting: Setting
  readonly known: KnownSetting | null
  /** The other settings of the same tune; those of the same key are its neighbours. */
  readonly beside?: readonly Setting[]
}

/** At most one doubt about the unit or shape, else one about the size and one about the step. */
export function doubtsOf({ setting, known, beside = [] }: GuardInput): readonly Doubt[] {
  const { asked } = setting
  if (asked.shape === 'auto' || asked.shape === 'unchanged') return []
  const shape = shapeDoubt(asked, known)
  if (shape !== null) return [shape]
  if (asked.shape === 'mode') return []
  const unit = unitDoubt(asked, known)
  if (unit !== null) return [unit]
  const size = rangesOf(setting, known, beside).map((range) => sizeDoubt(asked, range)).find((doubt) => doubt !== null) ?? null
  const step = size === null ? stepDoubt(asked, known) : null
  return [size, step].filter((doubt) => doubt !== null)
}

type Figured = Extract<Asked, { readonly unit: string }>

function shapeDoubt(asked: Exclude<Asked, { shape: 'auto' } | { shape: 'unchanged' }>, known: KnownSetting | null): Doubt | null {
  if (asked.shape === 'mode') {
    const modes = known?.modes ?? []
    if (known !== null && known.shape !== 'mode' && known.tunes + (known.kind === null ? 0 : 1) > 0) {
      const near = nearest(asked.mode.toLowerCase(), ['auto', 'unchanged'])
      return {
        code: 'not-a-figure',
        sentence: `"${asked.mode}" is no figure, and ${known.key} has ${known.unit === '' ? 'figures' : `figures in ${unitText(known.unit)}`} elsewhere.${near === undefined ? '' : ` Did you mean ${near}?`}`,
        mends: near === undefined ? [] : [{ text: near, asked: { shape: near } }],
      }
    }
    if (/^[+\-\u2212]?[\d.]/.test(asked.mode) && known?.shape !== 'mode') {
      return { code: 'not-a-figure', sentence: `"${asked.mode}" begins like a figure but reads as a name. Write figure and unit: 1.25 V.`, mends: [] }
    }
    if (modes.length === 0 || modes.some((mode) => settingKey(mode) === settingKey(asked.mode))) return null
    const near = nearest(asked.mode, modes)
    const offered = near === undefined ? modes.slice(0, MOST_MENDS) : [near]
    return {
      code: 'other-mode',
      sentence: `${known?.key ?? 'It'} has been ${listed(modes.map((mode) => `"${mode}"`))} so far.${near === undefined ? '' : ` Did you mean "${near}"?`}`,
      mends: offered.map((mode) => ({ text: mode, asked: { shape: 'mode', mode } })),
    }
  }
  if (known === null || known.shape === asked.shape || known.tunes + (known.kind === null ? 0 : 1) === 0) return null
  if (known.shape === 'mode') return { code: 'other-shape', sentence: `${known.key} has names elsewhere (${listed(known.modes.map((mode) => `"${mode}"`))}), here it is ${settingText(asked)}.`, mends: [] }
  return known.kind === null ? null : { code: 'other-shape', sentence: `${known.key} is ${SHAPES[known.shape]} elsewhere, here it is ${SHAPES[asked.shape]}.`, mends: [] }
}

const SHAPES = { scalar: 'one figure', table: 'a table', curve: 'a curve', mode: 'a name' } as const

function unitDoubt(asked: Figured, known: KnownSetting | null): Doubt | null {
  const { unit } = asked
  if (unit !== '' && findUnit(unit) === undefined && unit !== known?.unit) {
    const digits = digitsMeant(asked)
    if (digits !== null) {
      const meant = { ...asked, value: digits, unit: known?.unit ?? '' }
      return { code: 'unit-unknown', sentence: `"${unit}" is no unit here. Did you mean ${settingText(meant)}, with figures for the letters?`, mends: [mend(meant)] }
    }
    const near = known !== null && known.unit !== '' ? known.unit : nearestUnit(unit)
    return {
      code: 'unit-unknown',
      sentence: `No unit here is called "${unit}".${near === undefined ? '' : ` Did you mean ${settingText({ ...asked, unit: near })}?`}`,
      mends: near === undefined ? [] : [mend({ ...asked, unit: near })],
    }
  }
  if (known === null || known.unit === unit || convert(1, unit, known.unit) !== undefined) return null
  if (known.kind === null && known.tunes === 0) return null
  const bare = known.unit === '' || known.unit === '1'
  if (unit === '') return { code: 'unit-missing', sentence: `The unit is missing; ${known.key} is in ${unitText(known.unit)}. Did you mean ${settingText({ ...asked, unit: known.unit })}?`, mends: [mend({ ...asked, unit: known.unit })] }
  const other = bare ? { ...asked, unit: '' } : { ...asked, unit: known.unit }
  return {
    code: 'other-quantity',
    sentence: `${known.key} is ${bare ? 'a bare figure' : `in ${unitText(known.unit)}`} elsewhere, which ${unitText(unit)} doesn't convert to. Did you mean ${settingText(other)}?`,
    mends: [mend(other)],
  }
}

/** "64OO": letters that look like figures, right after the figures. */
function digitsMeant(asked: Figured): number | null {
  if (asked.shape !== 'scalar' || !/^[OoIl]+$/.test(asked.unit)) return null
  return Number(`${asked.value}${asked.unit.replace(/[Oo]/g, '0').replace(/[Il]/g, '1')}`)
}

function nearestUnit(unit: string): string | undefined {
  const near = nearest(unit.toLowerCase(), UNITS.map(({ symbol }) => symbol.toLowerCase()))
  return near === undefined ? undefined : (readUnit(near) ?? undefined)
}

interface Range {
  readonly unit: string
  readonly low: number
  readonly high: number
  /** Whether a person confirmed it, so that going outside is odd by itself. */
  readonly confirmed: 'yes' | 'no'
  /** Neighbours behind it. */
  readonly count: number
  /** Whose it is: "The other 12 tunes have", "It is usually". */
  readonly words: string
}

/** What people confirmed or other tunes have, then other places, then other rows; a figure must fit each. */
function rangesOf(setting: Setting, known: KnownSetting | null, beside: readonly Setting[]): readonly Range[] {
  return [knownRange(known), besideRange(setting, beside), rowsRange(setting.asked)].filter((range) => range !== null)
}

function knownRange(known: KnownSetting | null): Range | null {
  const kind = known?.kind
  if (kind?.usualLow !== undefined && kind.usualHigh !== undefined) return { unit: kind.unit, low: kind.usualLow, high: kind.usualHigh, confirmed: 'yes', count: 1, words: 'It is usually' }
  if (known === null || known.seen.length === 0) return null
  const values = known.seen.map(({ value, unit }) => convert(value, unit, known.unit) ?? value)
  return { unit: known.unit, ...ends(values), confirmed: 'no', count: known.tunes, words: known.tunes === 1 ? 'The other tune with it has' : `The other ${counted(known.tunes, 'tune')} with it have` }
}

function besideRange(setting: Setting, beside: readonly Setting[]): Range | null {
  const unit = 'unit' in setting.asked ? setting.asked.unit : ''
  const near = beside.filter((other) => other !== setting && settingKey(other.key) === settingKey(setting.key) && (other.scope.level !== setting.scope.level || other.scope.index !== setting.scope.index))
  const values = near.flatMap(({ asked }) => ('unit' in asked ? figuresOf(asked).flatMap((value) => convert(value, asked.unit, unit) ?? []) : []))
  if (values.length === 0) return null
  return { unit, ...ends(values), confirmed: 'no', count: near.length, words: near.length === 1 ? `${capital(scopeName(near[0].scope))} has` : `The other ${near.length} places have` }
}

function rowsRange(asked: Asked): Range | null {
  const rows = figuresOf(asked)
  if (rows.length < FEWEST_ROWS || !('unit' in asked)) return null
  // The middle half: a slip among the rows must not widen the range that it is held against.
  const sorted = rows.toSorted((a, b) => a - b)
  return { unit: asked.unit, low: sorted[Math.floor(rows.length / 4)], high: sorted[Math.ceil((3 * rows.length) / 4) - 1], confirmed: 'no', count: rows.length - 1, words: 'The other rows have' }
}

function ends(values: readonly number[]): { readonly low: number; readonly high: number } {
  return { low: Math.min(...values), high: Math.max(...values) }
}

/** With fewer there is no middle half to hold a row against. */
const FEWEST_ROWS = 4

function sizeDoubt(asked: Figured, range: Range): Doubt | null {
  for (const value of figuresOf(asked)) {
    const here = convert(value, asked.unit, range.unit)
    if (here === undefined || !isOdd(here, range)) continue
    const has = `${range.words} ${rangeText(range)}.`
    const better = mendedFigures(here, value, asked.unit, range)
    const opposite = better.length === 0 && isOdd(here, range) && !isOdd(-here, range) ? [{ value: -value, unit: asked.unit }] : []
    const mends = [...better, ...opposite].map((figure) => mend(replaced(asked, value, figure)))
    const [first] = [...better, ...opposite]
    const question = first === undefined ? '' : `Did you mean ${settingText({ shape: 'scalar', ...first })}? `
    const which = asked.shape === 'scalar' ? '' : `${settingText({ shape: 'scalar', value, unit: asked.unit })} stands out. `
    return { code: opposite.length > 0 ? 'other-sign' : 'outside', sentence: `${which}${question}${has}`, mends }
  }
  return null
}

function isOdd(value: number, { low, high, confirmed, count }: Range): boolean {
  const slack = ROUNDING * Math.max(Math.abs(low), Math.abs(high))
  if (value >= low - slack && value <= high + slack) return false
  if (confirmed === 'yes') return true
  if (value === 0) return false
  const most = Math.max(Math.abs(low), Math.abs(high))
  const least = Math.min(Math.abs(low), Math.abs(high))
  if (low > 0) return value < 0 || value > most * farFor(count) || value * farFor(count) < least
  if (high < 0 && value > 0 && count >= ENOUGH && value >= least) return true
  return most > 0 && Math.abs(value) > most * farAroundZero(count)
}

/** So many times beyond the furthest neighbour a figure is odd. With one neighbour the range is hardly known; a tenfold slip of it must still be caught. */
function farFor(count: number): number {
  return count >= ENOUGH ? 2 : count >= SOME ? 3 : 5
}

/** Offsets differ from each other by more; none is ten times the largest. */
function farAroundZero(count: number): number {
  return count >= ENOUGH ? 3 : count >= SOME ? 5 : 9
}

const SOME = 3
const ENOUGH = 6

/** Conversions of units round in the last places. */
const ROUNDING = 1e-9

interface FigureMend {
  readonly value: number
  readonly unit: string
}

/** The same digits with the point elsewhere, or in the unit's neighbour, where that lands among the neighbours. */
function mendedFigures(here: number, value: number, unit: string, range: Range): readonly FigureMend[] {
  const quantity = findUnit(unit)?.quantity
  const prefixes = UNITS.filter((other) => other.quantity === quantity && other.symbol !== unit && quantity !== 'time' && quantity !== 'score')
  const other = prefixes.map((candidate): FigureMend => ({ value, unit: candidate.symbol }))
  const shifted = SHIFTS.map((power): FigureMend => ({ value: shiftPoint(value, power), unit }))
  const fits = ({ value: figure, unit: symbol }: FigureMend): boolean => {
    const there = convert(figure, symbol, range.unit)
    return there !== undefined && there !== here && isAmong(there, range)
  }
  return [...shifted.slice(0, 2), ...other, ...shifted.slice(2)].filter(fits).slice(0, MOST_MENDS)
}

/** Powers of ten by which the point slips, the likeliest first. */
const SHIFTS = [-1, 1, -2, 2, -3, 3] as const
const MOST_MENDS = 2

/** Exact in the digits: 13.5 becomes 1.35, not 1.3500000000000001. */
function shiftPoint(value: number, power: number): number {
  const [digits, exponent = '0'] = String(value).split('e')
  return Number(`${digits}e${Number(exponent) + power}`)
}

/** Within the range, widened by a fifth where nobody confirmed it. */
function isAmong(value: number, { low, high, confirmed }: Range): boolean {
  const slack = confirmed === 'yes' ? 0 : Math.max(Math.abs(low), Math.abs(high)) / WIDENED
  return value >= low - slack && value <= high + slack
}

const WIDENED = 5

function stepDoubt(asked: Figured, known: KnownSetting | null): Doubt | null {
  const kind = known?.kind
  const step = kind?.step
  if (kind == null || step === undefined) return null
  for (const value of figuresOf(asked)) {
    const here = convert(value, asked.unit, kind.unit)
    if (here === undefined) continue
    const steps = here / step
    if (Math.abs(steps - Math.round(steps)) < STEP_SLACK * Math.max(1, Math.abs(steps))) continue
    const around = [Math.floor(steps), Math.ceil(steps)].toSorted((a, b) => Math.abs(a - steps) - Math.abs(b - steps)).map((count): FigureMend => {
      const onStep = tidy(count * step)
      const back = convert(onStep, kind.unit, asked.unit)
      return back === undefined ? { value: onStep, unit: kind.unit } : { value: tidy(back), unit: asked.unit }
    })
    const texts = around.map((figure) => settingText({ shape: 'scalar', ...figure }))
    return {
      code: 'off-step',
      sentence: `${settingText({ shape: 'scalar', value, unit: asked.unit })} lies between two steps of ${settingText({ shape: 'scalar', value: step, unit: kind.unit })}. Did you mean ${texts.join(' or ')}?`,
      mends: around.map((figure) => mend(replaced(asked, value, figure))),
    }
  }
  return null
}

/** Relative: a conversion and a division each round once. */
const STEP_SLACK = 1e-9

/** Takes the noise of binary fractions off what is shown as typed. */
function tidy(value: number): number {
  return Number(value.toPrecision(12))
}

/** The same value with one of its figures mended. In a table all rows share the unit, so the mended figure is converted to it. */
function replaced(asked: Figured, from: number, to: FigureMend): Figured {
  if (asked.shape === 'scalar') return { ...asked, value: to.value, unit: to.unit }
  const value = tidy(convert(to.value, to.unit, asked.unit) ?? to.value)
  const change = ([at, old]: [number, number]): [number, number] => [at, old === from ? value : old]
  return asked.shape === 'table' ? { ...asked, rows: asked.rows.map(change) } : { ...asked, points: asked.points.map(change) }
}

function mend(asked: Asked): Mend {
  return { text: settingText(asked), asked }
}

function rangeText({ low, high, unit }: Range): string {
  const highest = settingText({ shape: 'scalar', value: tidy(high), unit })
  return low === high ? highest : `${settingText({ shape: 'scalar', value: tidy(low), unit: '' })} to ${highest}`
}

function listed(items: readonly string[]): string {
  const shown = items.slice(0, MOST_LISTED)
  const rest = items.length - shown.length
  if (rest > 0) return `${shown.join(', ')} or ${rest} others`
  return shown.length < 2 ? shown.join('') : `${shown.slice(0, -1).join(', ')} or ${shown.at(-1)}`
}

const MOST_LISTED = 4

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1)
}
