// The sentence at the top: verdict, gain, interval.
import { intervalText, minutesText, type Headline, type Settle, type Verdict } from '@guardband/model'
import type { Quality } from './quality.ts'

export interface HeadlineInput {
  readonly sides: readonly [string, string]
  readonly quality: Quality
  readonly verdict: Verdict
  /** What the verdict would be were the comparison fair. */
  readonly measured: Verdict
  readonly interval: { readonly value: number; readonly low: number; readonly high: number } | null
  readonly limits: readonly number[]
  /** "overall", "in tile render", "over 5 of 6 workloads". */
  readonly where: string
  readonly settle: Settle | null
  /** Why there is no interval. */
  readonly why: string
  /** First of the reasons that stop. */
  readonly stop: string | null
}

export function headline(input: HeadlineInput): Headline {
  const { sides, quality, verdict } = input
  const [a, b] = sides
  const figures = figuresText(input)
  const verb = (word: string) => [{ text: `${b} is ` }, { text: word, verdict: true }, { text: ` than ${a}` }]
  switch (verdict.code) {
    case 'faster':
      return [...verb(quality.better), { text: `: ${figures}.` }]
    case 'slower':
      return [...verb(quality.worse), { text: `: ${figures}.` }]
    case 'faster-unclear':
      return [...verb(quality.better), { text: `, how much is unclear: ${figures}${more(input.settle)}.` }]
    case 'slower-unclear':
      return [...verb(quality.worse), { text: `, how much is unclear: ${figures}${more(input.settle)}.` }]
    case 'faster-small':
      return [...verb(quality.better), { text: `, too small to matter: ${figures}.` }]
    case 'slower-small':
      return [...verb(quality.worse), { text: `, too small to matter: ${figures}.` }]
    case 'same':
      return [{ text: 'No difference that matters', verdict: true }, { text: ` between ${b} and ${a}: ${figures}.` }]
    case 'not-fair':
      return [{ text: 'Not a fair comparison', verdict: true }, { text: `: ${lower(input.stop ?? '')}. As measured, ${measuredText(input, figures)}.` }]
    default:
      return [{ text: "Can't tell yet", verdict: true }, { text: ` whether ${b} is ${quality.better} than ${a}: ${input.interval === null ? input.why : figures}${more(input.settle)}.` }]
  }
}

function measuredText({ sides: [a, b], interval, measured, quality, why }: HeadlineInput, figures: string): string {
  if (interval === null) return why
  if (measured.code === 'open' || measured.code === 'same') return `${b} against ${a}: ${figures}`
  return `${b} is ${measured.tone === 'down' || measured.code === 'slower-small' ? quality.worse : quality.better} than ${a}: ${figures}`
}

/** "1.8 % overall, between 1.3 and 2.3 %"; a loss is told as a positive amount where the verdict names it one. */
function figuresText({ interval, limits, quality, verdict, measured, where }: HeadlineInput): string {
  if (interval === null) return ''
  const unit = quality.unit === 'degC' ? '°C' : quality.unit
  const code = verdict.code === 'not-fair' ? measured.code : verdict.code
  const asLoss = code.startsWith('slower')
  const directed = asLoss ? { value: -interval.value, low: -interval.high, high: -interval.low } : interval
  const plain = asLoss || code.startsWith('faster')
  const text = intervalText({ ...directed, signs: plain ? 'plain' : 'plus', limits: asLoss ? limits.map((limit) => -limit) : limits })
  return `${text.value} ${unit} ${where}, between ${text.low} and ${text.high} ${unit}`
}

function more(settle: Settle | null): string {
  if (settle === null || settle.items.length === 0 || settle.hand + settle.machine > MOST_MINUTES) return ''
  return ` (about ${minutesText(settle.hand + settle.machine)} more)`
}

/** A day: what takes longer is a decision for the margin, not for the headline. */
const MOST_MINUTES = 24 * 60

function lower(text: string): string {
  return text.charAt(0).toLowerCase() + text.slice(1)
}
