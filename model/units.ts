// Units of measures and settings: how they convert, whether two values compare as a ratio or as a difference, and the smallest change that matters by default.

export type Comparison = 'ratio' | 'difference'

export interface Unit {
  readonly symbol: string
  readonly quantity: string
  /** Multiply by this to reach the quantity's base unit. */
  readonly factor: number
  readonly compares: Comparison
}

const RATIO: Comparison = 'ratio'
const DIFFERENCE: Comparison = 'difference'

/** Temperatures and sound levels have no meaningful zero on their usual scales, so they compare as differences. */
export const UNITS: readonly Unit[] = [
  { symbol: '1', quantity: 'score', factor: 1, compares: RATIO },
  { symbol: 'points', quantity: 'score', factor: 1, compares: RATIO },
  { symbol: 'pts', quantity: 'score', factor: 1, compares: RATIO },
  { symbol: 's', quantity: 'time', factor: 1, compares: RATIO },
  { symbol: 'ms', quantity: 'time', factor: 1e-3, compares: RATIO },
  { symbol: 'us', quantity: 'time', factor: 1e-6, compares: RATIO },
  { symbol: 'ns', quantity: 'time', factor: 1e-9, compares: RATIO },
  { symbol: 'min', quantity: 'time', factor: 60, compares: RATIO },
  { symbol: 'h', quantity: 'time', factor: 3600, compares: RATIO },
  { symbol: 'fps', quantity: 'frame rate', factor: 1, compares: RATIO },
  { symbol: '1/s', quantity: 'rate', factor: 1, compares: RATIO },
  { symbol: '1/min', quantity: 'rate', factor: 1 / 60, compares: RATIO },
  { symbol: 'B/s', quantity: 'bandwidth', factor: 1, compares: RATIO },
  { symbol: 'kB/s', quantity: 'bandwidth', factor: 1e3, compares: RATIO },
  { symbol: 'MB/s', quantity: 'bandwidth', factor: 1e6, compares: RATIO },
  { symbol: 'GB/s', quantity: 'bandwidth', factor: 1e9, compares: RATIO },
  { symbol: 'MiB/s', quantity: 'bandwidth', factor: 1048576, compares: RATIO },
  { symbol: 'GiB/s', quantity: 'bandwidth', factor: 1073741824, compares: RATIO },
  { symbol: 'W', quantity: 'power', factor: 1, compares: RATIO },
  { symbol: 'kW', quantity: 'power', factor: 1e3, compares: RATIO },
  { symbol: 'mW', quantity: 'power', factor: 1e-3, compares: RATIO },
  { symbol: 'J', quantity: 'energy', factor: 1, compares: RATIO },
  { symbol: 'kJ', quantity: 'energy', factor: 1e3, compares: RATIO },
  { symbol: 'Wh', quantity: 'energy', factor: 3600, compares: RATIO },
  { symbol: 'Hz', quantity: 'frequency', factor: 1, compares: RATIO },
  { symbol: 'kHz', quantity: 'frequency', factor: 1e3, compares: RATIO },
  { symbol: 'MHz', quantity: 'frequency', factor: 1e6, compares: RATIO },
  { symbol: 'GHz', quantity: 'frequency', factor: 1e9, compares: RATIO },
  { symbol: 'V', quantity: 'voltage', factor: 1, compares: RATIO },
  { symbol: 'mV', quantity: 'voltage', factor: 1e-3, compares: RATIO },
  { symbol: 'A', quantity: 'current', factor: 1, compares: RATIO },
  { symbol: 'mA', quantity: 'current', factor: 1e-3, compares: RATIO },
  { symbol: 'Ohm', quantity: 'resistance', factor: 1, compares: RATIO },
  { symbol: 'mOhm', quantity: 'resistance', factor: 1e-3, compares: RATIO },
  { symbol: 'MT/s', quantity: 'transfers', factor: 1e6, compares: RATIO },
  { symbol: 'GT/s', quantity: 'transfers', factor: 1e9, compares: RATIO },
  { symbol: 'rpm', quantity: 'turns', factor: 1, compares: RATIO },
  { symbol: 'cycles', quantity: 'clock cycles', factor: 1, compares: RATIO },
  { symbol: '%', quantity: 'share', factor: 1, compares: RATIO },
  { symbol: 'degC', quantity: 'temperature', factor: 1, compares: DIFFERENCE },
  { symbol: 'dBA', quantity: 'sound level', factor: 1, compares: DIFFERENCE },
]

const bySymbol = new Map(UNITS.map((unit) => [unit.symbol, unit]))

/** The unit with this symbol, or undefined when it isn't known; an unknown unit compares as a ratio and converts to nothing but itself. */
export function findUnit(symbol: string): Unit | undefined {
  return bySymbol.get(symbol)
}

export function comparisonOf(symbol: string): Comparison {
  return bySymbol.get(symbol)?.compares ?? RATIO
}

/** `value` in unit `from`, expressed in unit `to`; undefined when they don't measure the same quantity. */
export function convert(value: number, from: string, to: string): number | undefined {
  if (from === to) return value
  const source = bySymbol.get(from)
  const target = bySymbol.get(to)
  if (source === undefined || target === undefined || source.quantity !== target.quantity) return undefined
  return (value * source.factor) / target.factor
}

/** How a unit reads in a sentence or a table header. */
export function unitText(symbol: string): string {
  if (symbol === '1') return ''
  if (symbol === 'degC') return '°C'
  if (symbol === 'us') return 'µs'
  if (symbol === 'Ohm') return 'Ω'
  if (symbol === 'mOhm') return 'mΩ'
  return symbol
}
