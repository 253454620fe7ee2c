// The value of a setting in words.
import { exact } from './figures.ts'
import type { SettingValue } from './records/tune.ts'
import { unitText } from './units.ts'

/** A setting value in a short text: "54", "1.25 V", "0.5: 900 MHz, 0.7: 2100 MHz", "quiet". */
export function settingText(value: SettingValue | { readonly shape: 'auto' } | { readonly shape: 'unchanged' }): string {
  switch (value.shape) {
    case 'scalar':
      return withUnit(value.value, value.unit)
    case 'mode':
      return value.mode
    case 'table':
      return pairsText(value.rows, value.unit, value.atUnit)
    case 'curve':
      return pairsText(value.points, value.unit, value.atUnit)
    case 'auto':
      return 'auto'
    case 'unchanged':
      return 'unchanged'
  }
}

/** Where nothing says in which unit the places stand (active cores, degrees), they belong to the setting's name. */
function pairsText(pairs: readonly (readonly [number, number])[], unit: string, atUnit = ''): string {
  return pairs.map(([at, setting]) => `${withUnit(at, atUnit)}: ${withUnit(setting, unit)}`).join(', ')
}

function withUnit(value: number, unit: string): string {
  const symbol = unitText(unit)
  return symbol === '' ? exact(value) : `${exact(value)} ${symbol}`
}
