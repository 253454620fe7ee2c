// A unit as people and firmware write it, in the one spelling that the records hold.
import { findUnit, UNITS } from '../units.ts'

/** The unit's symbol, or null where the text is no unit that anybody here knows. "x" stands for a bare ratio. */
export function readUnit(text: string): string | null {
  const plain = text.trim()
  if (findUnit(plain) !== undefined) return plain
  return spellings.get(plain.toLowerCase()) ?? null
}

/** What might be a unit: one that is known, or letters and signs without a blank. */
export function looksLikeUnit(text: string): boolean {
  return findUnit(text) !== undefined || (text.length <= LONGEST && /^[\p{L}°%×][\p{L}\d°%/^.²-]*$/u.test(text))
}

/** As the records allow. */
const LONGEST = 20

const OTHER_SPELLINGS: Readonly<Record<string, string>> = {
  x: '', '×': '', volt: 'V', volts: 'V', millivolt: 'mV', millivolts: 'mV', watt: 'W', watts: 'W', amp: 'A', amps: 'A', ampere: 'A', amperes: 'A',
  '°c': 'degC', c: 'degC', celsius: 'degC', deg: 'degC', ohms: 'Ohm', 'ω': 'Ohm', 'Ω': 'Ohm', 'mω': 'mOhm', 'mΩ': 'mOhm', mohms: 'mOhm', milliohm: 'mOhm', milliohms: 'mOhm',
  'µs': 'us', 'μs': 'us', usec: 'us', msec: 'ms', nsec: 'ns', sec: 's', secs: 's', second: 's', seconds: 's', minutes: 'min', hours: 'h',
  mts: 'MT/s', 'mt/s': 'MT/s', mtps: 'MT/s', 'gt/s': 'GT/s', clk: 'cycles', clks: 'cycles', clocks: 'cycles', clock: 'cycles', cycle: 'cycles', nclk: 'cycles', tck: 'cycles',
  percent: '%', 'rpm.': 'rpm', 'r/min': 'rpm',
}

/** Symbols that differ in nothing but case would be ambiguous here; a test holds that there are none among the known ones. */
const spellings: ReadonlyMap<string, string> = new Map([...UNITS.map(({ symbol }) => [symbol.toLowerCase(), symbol] as const), ...Object.entries(OTHER_SPELLINGS)])
