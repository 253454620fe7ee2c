// How a start is called wherever it is shown: by the label that its file gave it, else by how it came about, its tune, and when or in which place.
import type { Start } from '@guardband/model'

/** Short enough for a list: "1", "cold start, 65 W, 5 Nov 2026 09:00 UTC", "warm start 3, 65 W". */
export function startName(start: Start, asked: string | null): string {
  const mark = start.source?.lastIndexOf(LABEL_MARK) ?? -1
  if (start.source !== undefined && mark >= 0) return start.source.slice(mark + LABEL_MARK.length)
  const tune = asked === null ? '' : `, ${asked}`
  const kind = start.how === 'live' ? 'live change' : `${start.how} start`
  if (start.at !== undefined) return `${kind}${tune}, ${momentName(start.at)}`
  return `${kind} ${start.order === undefined ? start.id.slice(-SHORT_ID) : start.order + 1}${tune}`
}

/** The same within a sentence: a bare label gets its noun. */
export function startInSentence(start: Start, asked: string | null): string {
  return start.source?.includes(LABEL_MARK) === true ? `start ${startName(start, asked)}` : startName(start, asked)
}

/** Stands between an import's file name and the label that the start had in it. */
export const LABEL_MARK = ' # '

/** Nothing else tells such starts apart. */
const SHORT_ID = 8

/** UTC and English: the same words whoever reads them, and wherever. */
export function momentName(at: string): string {
  return `${dayAndTime.format(new Date(at)).replace(',', '')} UTC`
}

const dayAndTime = new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', day: 'numeric', month: 'short', year: 'numeric', hour: '2-digit', minute: '2-digit' })
