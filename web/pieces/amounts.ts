// Amounts, measured values and effort as short texts.
import { fixed } from '@guardband/model/figures'
import { unitText } from '@guardband/model/units'

/** "74 EUR", "£74": a currency written in letters follows, a sign precedes. */
export function amountText(amount: number, currency: string): string {
  const figure = fixed(amount, Number.isInteger(amount) ? 0 : MONEY_DECIMALS)
  if (currency === '') return figure
  return /^\p{L}/u.test(currency) ? `${figure} ${currency}` : `${currency}${figure}`
}

/** A single reading as it was recorded, no digit added. */
export function readingText(value: number, unit: string): string {
  const decimals = Math.min(MOST_DECIMALS, (String(value).split('.')[1] ?? '').length)
  const symbol = unitText(unit)
  return symbol === '' ? fixed(value, decimals) : `${fixed(value, decimals)} ${symbol}`
}

const MONEY_DECIMALS = 2
const MOST_DECIMALS = 4
