// Where settings pass a ceiling: every value of each setting against every ceiling that holds for it, in the ceiling's own unit.
import { exact } from './figures.ts'
import type { Ceiling } from './records/safety.ts'
import type { Slot } from './records/parts.ts'
import { settingText, type Setting, type SettingValue } from './records/tune.ts'
import { convert, unitText } from './units.ts'

export interface CeilingFinding {
  /** past: a figure lies outside; unchecked: nobody can say, since it is no figure or its unit does not convert. */
  readonly what: 'past' | 'unchecked'
  readonly ceilingId: string
  /** The ceiling's name. */
  readonly domain: string
  readonly key: string
  readonly scope: Setting['scope']
  /** What passes what, and by whose figure; or why it can't be checked. */
  readonly sentence: string
}

/** What the settings are for. What is left out narrows nothing: a ceiling for one part is looked at unless another part is named. */
export interface CeilingPart {
  readonly partId?: string
  readonly slot?: Slot
  /** As a start's conditions name it. */
  readonly cooling?: string
  /** degC of the part. */
  readonly temperature?: number
}

/**
 * Ceilings add up: one for the part, one for its slot and one for every part all hold, so the narrowest decides.
 * Findings stand in the order of the settings; of several values of one setting the one furthest past the bound is named.
 */
export function ceilingFindings(input: {
  readonly settings: readonly { readonly key: string; readonly scope: Setting['scope']; readonly value: SettingValue }[]
  readonly ceilings: readonly Ceiling[]
  readonly part?: CeilingPart
}): readonly CeilingFinding[] {
  const bySetting = new Map<string, Ceiling[]>()
  for (const ceiling of input.ceilings.filter((candidate) => holdsFor(candidate, input.part ?? {}))) {
    for (const key of new Set(ceiling.settings.map(settingKey))) {
      const list = bySetting.get(key)
      if (list === undefined) bySetting.set(key, [ceiling])
      else list.push(ceiling)
    }
  }
  return input.settings.flatMap((setting) =>
    (bySetting.get(settingKey(setting.key)) ?? []).toSorted(narrowestFirst).flatMap((ceiling) => {
      const fault = faultOf(setting.value, ceiling)
      if (fault === null) return []
      return [{ what: fault.what, ceilingId: ceiling.id, domain: ceiling.name, key: setting.key, scope: setting.scope, sentence: `${setting.key}${scopeText(setting.scope)} ${fault.text}${sourceText(ceiling)}.` }]
    }),
  )
}

/**
 * Where a part was run colder than its ceilings were given for. The rule: the coolant where it is recorded, else the room, against `lowestTemperature` of
 * every ceiling that holds for this part, its slot and this way of cooling. What the part itself had is not asked: it may have been colder than any reading.
 */
export function coldSentences(input: { readonly ceilings: readonly Ceiling[]; readonly part: CeilingPart; readonly ambient?: number | undefined; readonly coolant?: number | undefined }): readonly string[] {
  const coldest = input.coolant ?? input.ambient
  if (coldest === undefined) return []
  const { temperature: _unasked, ...part } = input.part
  return input.ceilings.flatMap((ceiling) => {
    const { lowestTemperature } = ceiling
    if (lowestTemperature === undefined || coldest >= lowestTemperature || !holdsFor(ceiling, part)) return []
    return [`it was run cold: ${input.coolant === undefined ? 'the room' : 'the coolant'} had ${scalarText(coldest, 'degC')}, and the ceiling for ${ceiling.name} was given for ${scalarText(lowestTemperature, 'degC')} and above${sourceText(ceiling)}.`]
  })
}

/** Keys are compared so: without regard to case, outer blanks or how many blanks stand between words. */
export function settingKey(key: string): string {
  return key.trim().replace(/\s+/g, ' ').toLowerCase()
}

/** " of core 3", or nothing where the setting is the machine's. */
export function scopeText({ level, index }: Setting['scope']): string {
  if (level === 'machine') return ''
  return ` of ${level}${index === undefined ? '' : ` ${index}`}`
}

function holdsFor(ceiling: Ceiling, { partId, slot, cooling, temperature }: CeilingPart): boolean {
  if (ceiling.partId !== undefined && partId !== undefined && ceiling.partId !== partId) return false
  if (ceiling.slot !== undefined && slot !== undefined && ceiling.slot !== slot) return false
  if (ceiling.cooling !== undefined && cooling !== undefined && settingKey(ceiling.cooling) !== settingKey(cooling)) return false
  // Its band ends below `lowestTemperature`: another ceiling holds in the cold. Above `highestTemperature` it goes on to hold, since heat earns no part more.
  return temperature === undefined || ceiling.lowestTemperature === undefined || temperature >= ceiling.lowestTemperature
}

function narrowestFirst(a: Ceiling, b: Ceiling): number {
  return width(a) - width(b)
}

function width({ partId, slot }: Ceiling): number {
  return partId !== undefined ? 0 : slot !== undefined ? 1 : 2
}

interface Fault {
  readonly what: CeilingFinding['what']
  /** Stands behind the setting's name. */
  readonly text: string
}

function faultOf(value: SettingValue, ceiling: Ceiling): Fault | null {
  const { highest, unit } = ceiling
  const lowest = ceiling.hours === undefined ? ceiling.lowest : undefined
  if (highest === undefined && lowest === undefined) return null
  const unchecked = (why: string): Fault => ({ what: 'unchecked', text: `can't be checked against the ceiling for ${ceiling.name}: ${why}` })
  if (value.shape === 'mode') return unchecked(`it is set to "${value.mode}", which is no figure`)
  let worst: { readonly excess: number; readonly text: string } | null = null
  for (const { at, value: own } of pointsOf(value)) {
    const inUnit = convert(own, value.unit, unit)
    if (inUnit === undefined) return unchecked(`it is given in ${unitName(value.unit)}, the ceiling in ${unitName(unit)}`)
    const where = at === null ? '' : ` at ${exact(at)}`
    for (const { bound, excess, words } of [
      { bound: highest, excess: inUnit - (highest ?? inUnit), words: 'is above the ceiling' },
      { bound: lowest, excess: (lowest ?? inUnit) - inUnit, words: 'is below the lowest value' },
    ]) {
      if (bound === undefined || excess <= rounding(bound) || (worst !== null && excess <= worst.excess)) continue
      worst = { excess, text: `${scalarText(own, value.unit)}${where} ${words} for ${ceiling.name}, ${scalarText(bound, unit)}` }
    }
  }
  return worst === null ? null : { what: 'past', text: worst.text }
}

function scalarText(value: number, unit: string): string {
  return settingText({ shape: 'scalar', value, unit })
}

function unitName(unit: string): string {
  const text = unitText(unit)
  return text === '' ? 'no unit' : text
}

interface Point {
  /** Where on the table or curve; null for a single value. */
  readonly at: number | null
  readonly value: number
}

function pointsOf(value: Exclude<SettingValue, { shape: 'mode' }>): readonly Point[] {
  if (value.shape === 'scalar') return [{ at: null, value: value.value }]
  return (value.shape === 'table' ? value.rows : value.points).map(([at, set]) => ({ at, value: set }))
}

/** 1300 mV is 1.3 V: what only the conversion's rounding adds is not past the bound. */
function rounding(bound: number): number {
  return Math.abs(bound) * ROUNDINGS * Number.EPSILON
}

/** A conversion multiplies once and divides once; each may be off by half a unit in the last place. */
const ROUNDINGS = 4

function sourceText({ source }: Ceiling): string {
  return source === undefined || source.trim() === '' ? '' : ` (${source.trim()})`
}
