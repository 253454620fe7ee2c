// A figure as a person types it: point or comma for the decimals, blanks around it, a true or a plain minus.

/** Undefined where nothing stands, null where it is no figure. */
export function typedFigure(text: string): number | undefined | null {
  const plain = text.trim().replace('\u2212', '-').replace(',', '.')
  if (plain === '') return undefined
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : null
}

export function figureProblem(text: string, rule: { readonly name: string; readonly needed?: true; readonly above?: number; readonly least?: number }): string | undefined {
  const value = typedFigure(text)
  if (value === null) return `${rule.name} must be a figure; got "${text.trim()}".`
  if (value === undefined) return rule.needed === true ? `${rule.name} is needed.` : undefined
  if (rule.above !== undefined && value <= rule.above) return `${rule.name} must be above ${rule.above}; got ${text.trim()}.`
  if (rule.least !== undefined && value < rule.least) return `${rule.name} must be ${rule.least} or more; got ${text.trim()}.`
  return undefined
}

/** What stands in the field of a figure before anybody types. */
export function untypedFigure(value: number | undefined): string {
  return value === undefined ? '' : String(value)
}
