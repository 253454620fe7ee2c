// What a single cell looks like, before anybody knows what its column is.

/** Digits with whatever marks numbers carry; a unit may follow. */
export function looksNumeric(cell: string): boolean {
  return NUMERIC.test(cell)
}

const NUMERIC = /^[+\u2212-]?(\d[\d.,'\u2019\s\u00A0\u2009\u202F]*|[.,]\d+)(e[+-]?\d+)?\s*([%°µA-Za-z/()]{1,8})?$/

/** A cell that holds nothing but one of these stands in a row that sums up others. */
export function isTotalsWord(cell: string): boolean {
  return TOTALS.has(cell.toLowerCase().replace(/[:.]$/, ''))
}

const TOTALS: ReadonlySet<string> = new Set([
  'average', 'avg', 'mean', 'median', 'total', 'totals', 'sum', 'std', 'stdev', 'std dev', 'stddev', 'standard deviation', 'geomean', 'geometric mean', 'minimum', 'maximum',
  'mittelwert', 'durchschnitt', 'mittel', 'summe', 'gesamt', 'standardabweichung', 'mw', 'ø', 'Ø',
])
