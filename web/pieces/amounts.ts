// Amounts, measured values and effort as short texts.
import { fixed } from '@guardband/model/figures'
import { unitText } from '@guardband/model/units'

/** "74 EUR", "£74": a currency written in letters follows, a sign precedes. */
export function amountText(amount: number, currency: string): string {
  const figure = fixed(amount, Number.isInteger(amount) ? 0 : MONEY_DECIMALS)
  if (currency === '') return figure
  return /^\p{L}/u.test(currency) ? `${figure} ${currency}` : `${currency}${figure}`
}

/** A single reading as it was recorded; in a list with as many decimals as the list gives its measure, so that figures line up. */
export function readingText(value: number, unit: string, decimals: number = decimalsOf(value)): string {
  const symbol = unitText(unit)
  return symbol === '' ? fixed(value, decimals) : `${fixed(value, decimals)} ${symbol}`
}

/** As many as the value was recorded with. */
export function decimalsOf(value: number): number {
  return Math.min(MOST_DECIMALS, (String(value).split('.')[1] ?? '').length)
}

const MONEY_DECIMALS = 2
const MOST_DECIMALS = 4
