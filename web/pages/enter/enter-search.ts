// What the address of the entry grid says: which sheet, which of its starts.
export interface EnterSearch {
  readonly sheet?: string | undefined
  readonly start?: string | undefined
}

export function enterSearch(raw: Readonly<Record<string, unknown>>): EnterSearch {
  return { sheet: idOf(raw['sheet']), start: idOf(raw['start']) }
}

function idOf(value: unknown): string | undefined {
  return typeof value === 'string' && value !== '' ? value : undefined
}
