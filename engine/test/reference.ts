// Reads reference values; the strings "Infinity" and "-Infinity" stand for the numbers JSON lacks.

import { readFileSync } from 'node:fs'

export function reference(path: string): unknown {
  const text = readFileSync(new URL(`../../reference/${path}`, import.meta.url), 'utf8')
  return JSON.parse(text, (_key, value: unknown) => (value === 'Infinity' ? Infinity : value === '-Infinity' ? -Infinity : value))
}

/** |got - want| / |want|, 0 when equal (infinities included). */
export function relativeDifference(got: number, want: number): number {
  return got === want ? 0 : Math.abs(got - want) / Math.abs(want)
}
