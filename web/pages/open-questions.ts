// Which questions are open, in which order they are worth settling, and what the bench says of them in one sentence.
import type { QuestionRow } from '@guardband/model/api'
import { counted, minutesText } from '@guardband/model/figures'

/** Open: no verdict yet, one that can't be given, or one that more bench time would sharpen. */
export function isOpen(row: QuestionRow): boolean {
  return row.verdict === null || row.verdict.tone === 'open' || row.verdict.tone === 'stop' || row.settle !== null
}

/** Cheapest to settle first: hand-minutes are dear, machine-minutes less so; what can't be priced comes last. */
export function cheapestFirst(rows: readonly QuestionRow[]): readonly QuestionRow[] {
  return rows.toSorted((a, b) => (priceOf(a) < priceOf(b) ? -1 : priceOf(a) > priceOf(b) ? 1 : 0))
}

/** Counts hours only for what the answers would have settled within a day: more than that is a decision, not a next step. */
export function benchSentence(rows: readonly QuestionRow[]): string {
  if (rows.length === 0) return 'Runs are in; no question has been asked of them.'
  const waiting = rows.filter((row) => row.state === 'none').length
  if (waiting > 0) return `${counted(waiting, 'answer is', 'answers are')} being worked out.`
  const open = rows.filter(isOpen)
  if (open.length === 0) return 'Nothing is open: every question asked has its answer.'
  const near = cheapestFirst(open).map(minutesOf).filter((minutes) => minutes > 0 && minutes <= MOST_MINUTES)
  return `${counted(open.length, 'question is', 'questions are')} open${timeText(near, open.length)}.`
}

function timeText(near: readonly number[], open: number): string {
  const [cheapest] = near
  if (cheapest === undefined) return ''
  if (open === 1) return `; ${minutesText(cheapest)} would settle it`
  if (near.length === 1) return `; the cheapest takes ${minutesText(cheapest)}`
  const together = minutesText(near.reduce((sum, minutes) => sum + minutes, 0))
  return `; ${near.length === open ? 'all' : near.length} can be settled in ${together}, the cheapest in ${minutesText(cheapest)}`
}

function minutesOf({ settle }: QuestionRow): number {
  return settle === null ? 0 : settle.hand + settle.machine
}

function priceOf({ settle }: QuestionRow): number {
  return settle === null || settle.hand + settle.machine === 0 ? Number.POSITIVE_INFINITY : settle.hand * HAND_OVER_MACHINE + settle.machine
}

/** A day, as in an answer's own headline. */
const MOST_MINUTES = 24 * 60
/** How much dearer a minute of a person is than one of a machine, for the order of the list alone. */
const HAND_OVER_MACHINE = 4
