// What stands in the addresses of the tunes' pages.

type Raw = Record<string, unknown>

export function findSearch(raw: Raw): { find?: string | undefined } {
  return { find: textOf(raw['find']) }
}

export function newTuneSearch(raw: Raw): { base?: string | undefined; edit?: string | undefined } {
  return { base: textOf(raw['base']), edit: textOf(raw['edit']) }
}

export function compareSearch(raw: Raw): { a?: string | undefined; b?: string | undefined } {
  return { a: textOf(raw['a']), b: textOf(raw['b']) }
}

/** A number in an address may be read as one already; an empty text is none. */
function textOf(value: unknown): string | undefined {
  if (typeof value === 'number') return String(value)
  return typeof value === 'string' && value !== '' ? value : undefined
}
