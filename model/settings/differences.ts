// The difference between two sets of settings, readable by people: a sentence first, then groups of rows with signed changes. Page and command line print the same.
import { settingKey } from '../ceilings.ts'
import { counted, exact, fixed, signed } from '../figures.ts'
import type { Known } from '../records/base.ts'
import { settingText, type Asked, type Scope, type Setting, type SettingKind } from '../records/tune.ts'
import { settingPlace } from '../tune-settings.ts'
import { comparisonOf, convert, unitText } from '../units.ts'
import { scopeName } from './setting-line.ts'

/** One side's word on a setting. */
export interface SideSetting extends Setting {
  /** For what was in force: how that is known. */
  readonly known?: Known
}

export interface DifferenceRow {
  readonly key: string
  /** "core 3", "channel A"; empty for the whole machine. */
  readonly place: string
  readonly group: string
  readonly what: 'changed' | 'only in A' | 'only in B'
  /** "auto", "1.25 V"; null where the side says nothing. */
  readonly a: string | null
  readonly b: string | null
  /** "+25 mV", "+2 %": empty where there is no figure to it. */
  readonly change: string
  readonly percent: string
  /** For tables and curves, place by place; places where both agree are left out. */
  readonly points: readonly DifferencePoint[]
  readonly known: Known | null
}

export interface DifferencePoint {
  readonly at: string
  readonly a: string | null
  readonly b: string | null
  readonly change: string
  readonly percent: string
}

export interface Difference {
  readonly nameA: string
  readonly nameB: string
  readonly sentence: string
  readonly groups: readonly { readonly name: string; readonly rows: readonly DifferenceRow[] }[]
  readonly same: number
  /** The whole as plain text, for a mail or a notebook. */
  readonly text: string
}

export interface DifferenceInput {
  readonly a: { readonly name: string; readonly settings: readonly SideSetting[] }
  readonly b: { readonly name: string; readonly settings: readonly SideSetting[] }
  readonly kinds?: readonly SettingKind[]
}

/** `unchanged` on a side that has nothing below it counts as saying nothing. Values are compared in one unit; 1250 mV and 1.25 V are no difference. */
export function differenceOf({ a, b, kinds = [] }: DifferenceInput): Difference {
  const { rows, same } = differingRows(a.settings, b.settings, kinds)
  const groups = [...Map.groupBy(rows, (row) => row.group)].map(([name, members]) => ({ name, rows: members })).toSorted((one, other) => groupRank(one.name, one.rows) - groupRank(other.name, other.rows))
  const sentence = differenceSentence(a.name, b.name, rows, same)
  return { nameA: a.name, nameB: b.name, sentence, groups, same, text: differenceText(sentence, groups) }
}

export function differingRows(a: readonly SideSetting[], b: readonly SideSetting[], kinds: readonly SettingKind[]): { readonly rows: readonly DifferenceRow[]; readonly same: number } {
  const domains = new Map(kinds.map((kind) => [settingKey(kind.name), kind.domain]))
  const left = byPlace(a)
  const right = byPlace(b)
  let same = 0
  const rows: DifferenceRow[] = []
  for (const place of new Set([...left.keys(), ...right.keys()])) {
    const [one, other] = [left.get(place), right.get(place)]
    if (one !== undefined && other !== undefined && sameAsked(one.asked, other.asked)) same += 1
    else rows.push(rowOf(one, other, domains))
  }
  return { rows, same }
}

/** "core ratio +2 to 56": one row in a sentence. */
export function rowInWords({ key, place, a, b, what, change, percent, points }: DifferenceRow): string {
  const name = place === '' ? key : `${key} of ${place}`
  if (what === 'only in A') return `${name} no longer asked for`
  if (what === 'only in B') return `${name} ${b ?? ''}`
  if (points.length > 0) return `${name} at ${points.length === 1 ? points[0].at : counted(points.length, 'place')}`
  if (change === '') return `${name} ${b ?? ''} instead of ${a ?? ''}`
  // "−40 mV to −40 mV" would be the change of an offset that was zero.
  return percent === '' ? `${name} from ${a ?? ''} to ${b ?? ''}` : `${name} ${change} to ${b ?? ''}`
}

/** The same figures, whatever the unit that they were typed in. */
export function sameAsked(a: Asked, b: Asked): boolean {
  if (a.shape === 'auto' || a.shape === 'unchanged') return a.shape === b.shape
  if (a.shape === 'mode') return b.shape === 'mode' && settingKey(a.mode) === settingKey(b.mode)
  if (b.shape === 'auto' || b.shape === 'unchanged' || b.shape === 'mode') return false
  if (a.shape === 'scalar') return b.shape === 'scalar' && sameFigure(a.value, a.unit, b.value, b.unit)
  if (b.shape === 'scalar') return false
  const [left, right] = [pairsOf(a), pairsOf(b)]
  return left.length === right.length && left.every(([at, value]) => right.some(([otherAt, other]) => sameFigure(at, a.atUnit ?? '', otherAt, b.atUnit ?? '') && sameFigure(value, a.unit, other, b.unit)))
}

function byPlace(settings: readonly SideSetting[]): Map<string, SideSetting> {
  return new Map(settings.filter(({ asked }) => asked.shape !== 'unchanged').map((setting) => [settingPlace(setting), setting]))
}

function rowOf(a: SideSetting | undefined, b: SideSetting | undefined, domains: ReadonlyMap<string, string | undefined>): DifferenceRow {
  const either = b ?? a
  if (either === undefined) throw new RangeError('a row must have a side; got none')
  const { key, scope } = either
  const points = a !== undefined && b !== undefined ? pointRows(a.asked, b.asked) : []
  const change = a?.asked.shape === 'scalar' && b?.asked.shape === 'scalar' ? changeOf(a.asked, b.asked) : NO_CHANGE
  return {
    key,
    place: placeName(scope),
    group: domains.get(settingKey(key)) ?? capital(scope.level),
    what: a === undefined ? 'only in B' : b === undefined ? 'only in A' : 'changed',
    a: a === undefined ? null : settingText(a.asked),
    b: b === undefined ? null : settingText(b.asked),
    ...change,
    points,
    known: b?.known ?? a?.known ?? null,
  }
}

/** What belongs to the whole machine goes without saying. */
export function placeName(scope: Scope): string {
  return scope.level === 'machine' ? '' : scope.index === undefined ? (scope.level === 'package' ? '' : `every ${scope.level}`) : scopeName(scope)
}

const NO_CHANGE = { change: '', percent: '' } as const

/** In the unit of B. A percentage only where both lie on the same side of a true zero: an offset has none, a temperature neither. */
function changeOf(a: { readonly value: number; readonly unit: string }, b: { readonly value: number; readonly unit: string }): { readonly change: string; readonly percent: string } {
  const before = convert(a.value, a.unit, b.unit)
  if (before === undefined) return NO_CHANGE
  const by = Number((b.value - before).toPrecision(DIGITS))
  const decimals = (exact(by).split('.')[1] ?? '').length
  const symbol = unitText(b.unit)
  const change = `${signed(by, decimals)}${symbol === '' ? '' : ` ${symbol}`}`
  if (before <= 0 || b.value <= 0 || comparisonOf(b.unit) === 'difference' || b.unit === '%') return { change, percent: '' }
  const percent = (b.value / before - 1) * 100
  const places = Math.abs(percent) < 10 ? 1 : 0
  return { change, percent: percent > MOST_PERCENT ? `${fixed(b.value / before, 0)} times` : `${signed(percent, places)} %` }
}

/** Takes the noise of binary fractions off a difference. */
const DIGITS = 12
/** Beyond, a factor reads better. */
const MOST_PERCENT = 400

type Paired = Extract<Asked, { shape: 'table' | 'curve' }>

function pairsOf(asked: Paired): readonly [number, number][] {
  return asked.shape === 'table' ? asked.rows : asked.points
}

function pointRows(a: Asked, b: Asked): readonly DifferencePoint[] {
  if ((a.shape !== 'table' && a.shape !== 'curve') || (b.shape !== 'table' && b.shape !== 'curve')) return []
  const atUnit = b.atUnit ?? a.atUnit ?? ''
  const left = new Map(pairsOf(a).map(([at, value]) => [tidy(convert(at, a.atUnit ?? '', atUnit) ?? at), value]))
  const right = new Map(pairsOf(b).map(([at, value]) => [at, value]))
  return [...new Set([...left.keys(), ...right.keys()])].toSorted((one, other) => one - other).flatMap((at): readonly DifferencePoint[] => {
    const [before, after] = [left.get(at), right.get(at)]
    if (before !== undefined && after !== undefined && sameFigure(before, a.unit, after, b.unit)) return []
    const change = before === undefined || after === undefined ? NO_CHANGE : changeOf({ value: before, unit: a.unit }, { value: after, unit: b.unit })
    return [{ at: figureText(at, atUnit), a: before === undefined ? null : figureText(before, a.unit), b: after === undefined ? null : figureText(after, b.unit), ...change }]
  })
}

function figureText(value: number, unit: string): string {
  return settingText({ shape: 'scalar', value, unit })
}

function sameFigure(a: number, unitA: string, b: number, unitB: string): boolean {
  const there = convert(a, unitA === '1' ? '' : unitA, unitB === '1' ? '' : unitB)
  return there !== undefined && Math.abs(there - b) <= ROUNDING * Math.max(Math.abs(there), Math.abs(b))
}

const ROUNDING = 1e-9

function tidy(value: number): number {
  return Number(value.toPrecision(DIGITS))
}

function differenceSentence(nameA: string, nameB: string, rows: readonly DifferenceRow[], same: number): string {
  if (rows.length === 0) return same === 0 ? `Neither ${nameA} nor ${nameB} asks for anything.` : `${nameB} and ${nameA} ask for the same${same === 1 ? ': one setting' : ` ${fixed(same, 0)} settings`}.`
  const named = rows.slice(0, MOST_NAMED).map(rowInWords)
  const rest = rows.length - named.length
  return `${nameB} differs from ${nameA} in ${counted(rows.length, 'setting')}: ${inSeries(named, rest)}.`
}

/** Changes one after the other; where one has commas of its own (a curve, a mode), stronger marks part them. */
export function inSeries(words: readonly string[], more: number): string {
  const mark = words.some((word) => word.includes(',')) ? ';' : ','
  return `${words.join(`${mark} `)}${more > 0 ? `${mark} and ${more} more` : ''}`
}

const MOST_NAMED = 4

function differenceText(sentence: string, groups: Difference['groups']): string {
  const lines = [sentence]
  for (const { name, rows } of groups) {
    lines.push('', name)
    for (const row of rows) {
      lines.push(`  ${row.key}${row.place === '' ? '' : `, ${row.place}`}: ${row.a ?? 'not asked for'} → ${row.b ?? 'not asked for'}${tail(row)}${row.known === null ? '' : ` (${row.known})`}`)
      for (const point of row.points) lines.push(`    at ${point.at}: ${point.a ?? 'nothing'} → ${point.b ?? 'nothing'}${tail(point)}`)
    }
  }
  return lines.join('\n')
}

function tail({ change, percent }: { readonly change: string; readonly percent: string }): string {
  return change === '' ? '' : `  ${change}${percent === '' ? '' : `, ${percent}`}`
}

/** Named domains first, then from the whole machine down to its parts. */
function groupRank(name: string, rows: readonly DifferenceRow[]): number {
  const level = LEVELS.indexOf(name)
  return level < 0 ? -rows.length : level + 1
}

const LEVELS = ['Machine', 'Package', 'Core group', 'Core', 'Channel', 'Module']

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1)
}
