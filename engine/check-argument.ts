// Guards shared by the public functions; the kernels behind them trust their input.

import { InvalidArgument } from './invalid-argument.ts'

/** Throws unless `value` is a number other than NaN (infinities pass). */
export function requireNumber(name: string, value: number): void {
  if (typeof value !== 'number' || Number.isNaN(value)) throw new InvalidArgument(name, 'a number', value)
}

/** Throws unless `value` is finite. */
export function requireFinite(name: string, value: number): void {
  if (!Number.isFinite(value)) throw new InvalidArgument(name, 'finite', value)
}

/** Throws unless 0 <= `value` <= 1. */
export function requireProbability(name: string, value: number): void {
  if (!(value >= 0 && value <= 1)) throw new InvalidArgument(name, 'a probability from 0 to 1', value)
}

/** Throws unless `value` > 0; Infinity passes. */
export function requireDf(name: string, value: number): void {
  if (!(value > 0)) throw new InvalidArgument(name, 'above 0 (Infinity allowed)', value)
}

/** Throws unless every entry is finite; names the first that is not. */
export function requireAllFinite(name: string, values: ArrayLike<number>): void {
  for (let i = 0; i < values.length; i++) requireFinite(`${name}[${i}]`, values[i])
}

/** Throws unless `values` has exactly `length` entries. */
export function requireLength(name: string, values: ArrayLike<unknown>, length: number): void {
  if (values.length !== length) throw new InvalidArgument(`${name}.length`, String(length), values.length)
}
