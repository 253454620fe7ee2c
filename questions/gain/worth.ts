// What the gain is worth: the price of one percent at which B pays, the chance that it pays, for the part alone and the whole machine.
import { tProbabilityAbove, normalCdf } from '@guardband/engine'
import { chanceText, decimalsFor, fixed, type Estimate, type GainSnapshot } from '@guardband/model'
import type { Contrast } from './contrast.ts'

export interface Worth {
  readonly sentences: readonly string[]
  readonly estimate: Pick<Estimate, 'value' | 'low' | 'high' | 'unit' | 'label' | 'note'>
}

/** Chances treat the interval as a belief with no prior leaning: t around the estimate (or normal where rounding decides). */
export function worth(snapshot: GainSnapshot, contrast: Contrast): Worth | null {
  const { money, lab, sides } = snapshot
  if (money === undefined || contrast.halfWidth === null || contrast.standardError === null) return null
  const [a, b] = [sides[0].label, sides[1].label]
  const price = (amount: number) => `${fixed(amount, Number.isInteger(amount) ? 0 : 2)}${lab.currency === '' ? '' : ` ${lab.currency}`}`
  const low = 100 * Math.expm1(contrast.estimate - contrast.halfWidth)
  const high = 100 * Math.expm1(contrast.estimate + contrast.halfWidth)
  const middle = 100 * Math.expm1(contrast.estimate)
  const extra = money.extraPrice
  const sentences: string[] = []
  if (extra <= 0) {
    sentences.push(`${b} costs ${extra === 0 ? 'the same' : `${price(-extra)} less`}; the chance that it is no slower than ${a} is ${chanceText(chanceAbove(contrast, 0))}.`)
    return { sentences, estimate: { value: null, low: null, high: null, unit: `${lab.currency} per %`.trim(), label: 'break-even worth of one percent', note: 'B costs no more than A' } }
  }
  const perPercent = (gain: number) => (gain > 0 && extra / gain <= MOST_PRICE ? extra / gain : null)
  const value = perPercent(middle)
  const least = perPercent(high)
  const most = perPercent(low)
  const decimals = least === null ? 0 : Math.min(CENTS, decimalsFor(most === null ? least / 2 : (most - least) / 2))
  if (least === null) sentences.push(`${b} costs ${price(extra)} more and brings no gain to pay for it.`)
  else if (most === null) sentences.push(`${b} costs ${price(extra)} more. One percent would have to be worth at least ${fixed(least, decimals)} to pay; there is no upper end, since the gain may be nothing.`)
  else sentences.push(`${b} costs ${price(extra)} more. It pays when one percent is worth ${fixed(value ?? least, decimals)}, between ${fixed(least, decimals)} and ${fixed(most, decimals)}.`)
  if (money.worthOfOnePercent !== undefined) {
    const needed = extra / money.worthOfOnePercent
    if (needed > MOST_NEEDED) sentences.push(`At ${price(money.worthOfOnePercent)} per percent no gain could pay for that.`)
    else sentences.push(`At ${price(money.worthOfOnePercent)} per percent it pays from a gain of ${fixed(needed, 1)} % on; the chance of that is ${chanceText(chanceAbove(contrast, Math.log1p(needed / 100)))}.`)
  }
  for (const [what, whole] of [['the part alone', money.partPrice], ['the whole machine', money.machinePrice]] as const) {
    if (whole === undefined) continue
    const needed = extra / whole
    if (100 * needed > MOST_NEEDED) sentences.push(`No gain could make up for that in speed per price of ${what}.`)
    else sentences.push(`Speed per price of ${what} rises if the gain is over ${fixed(100 * needed, 1)} %; the chance of that is ${chanceText(chanceAbove(contrast, Math.log1p(needed)))}.`)
  }
  const note = most === null ? 'no upper end: the gain may be nothing' : undefined
  return { sentences, estimate: { value, low: least, high: most, unit: `${lab.currency} per %`.trim(), label: 'break-even worth of one percent', ...(note === undefined ? {} : { note }) } }
}

/** A price for one percent beyond this is as good as none. */
const MOST_PRICE = 1e12
const CENTS = 2
/** Percent. */
const MOST_NEEDED = 1e6

function chanceAbove(contrast: Contrast, threshold: number): number {
  const error = contrast.standardError ?? 0
  if (error === 0) return contrast.estimate >= threshold ? 1 : 0
  return contrast.df === null ? normalCdf((contrast.estimate - threshold) / error) : tProbabilityAbove(threshold, contrast.estimate, error, contrast.df)
}
