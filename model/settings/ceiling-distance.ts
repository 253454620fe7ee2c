// How far a setting lies below the ceiling that is nearest to it, in the ceiling's unit.
import { settingKey } from '../ceilings.ts'
import type { Ceiling } from '../records/safety.ts'
import { settingText, type Asked } from '../records/tune.ts'
import { convert } from '../units.ts'
import { figuresOf } from './setting-book.ts'

/** "0.15 V below the ceiling for core voltage, 1.4 V"; null where no ceiling holds for it or it says no figure that converts. What is past a bound is said by `ceilingFindings`. */
export function ceilingDistance(input: { readonly key: string; readonly asked: Asked; readonly ceilings: readonly Ceiling[] }): string | null {
  const { asked } = input
  if (!('unit' in asked)) return null
  let nearest: { readonly distance: number; readonly ceiling: Ceiling; readonly highest: number } | null = null
  for (const ceiling of input.ceilings) {
    const { highest } = ceiling
    if (highest === undefined || !ceiling.settings.some((key) => settingKey(key) === settingKey(input.key))) continue
    const values = figuresOf(asked).map((value) => convert(value, asked.unit, ceiling.unit))
    if (values.some((value) => value === undefined)) continue
    const distance = Number((highest - Math.max(...values.filter((value) => value !== undefined))).toPrecision(DIGITS))
    if (distance >= 0 && (nearest === null || distance < nearest.distance)) nearest = { distance, ceiling, highest }
  }
  if (nearest === null) return null
  const { distance, ceiling, highest } = nearest
  const bound = `the ceiling for ${ceiling.name}, ${settingText({ shape: 'scalar', value: highest, unit: ceiling.unit })}`
  return distance === 0 ? `at ${bound}` : `${settingText({ shape: 'scalar', value: distance, unit: ceiling.unit })} below ${bound}`
}

/** Takes the noise of binary fractions off a difference. */
const DIGITS = 12
