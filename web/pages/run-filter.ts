// Which runs a person wants to see: words anywhere in the row, and how the run ended.
import type { RunRow } from '@guardband/model/api'
import { COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES } from '@guardband/model/records/run'

export interface RunFilter {
  readonly find?: string | undefined
  /** An outcome, "failed" for any failure, or "set aside". */
  readonly outcome?: string | undefined
}

export function isFiltered(filter: RunFilter): boolean {
  return filter.find !== undefined || filter.outcome !== undefined
}

export function matches(row: RunRow, filter: RunFilter): boolean {
  return hasOutcome(row, filter.outcome) && hasWords(row, filter.find)
}

function hasOutcome(row: RunRow, outcome: string | undefined): boolean {
  if (outcome === undefined) return true
  if (outcome === 'set aside') return row.setAside !== null
  if (outcome === 'failed') return !COMPARABLE_OUTCOMES.has(row.outcome) && !NEUTRAL_OUTCOMES.has(row.outcome)
  return row.outcome === outcome
}

/** Every word must stand somewhere in the row. */
function hasWords(row: RunRow, find: string | undefined): boolean {
  if (find === undefined) return true
  const text = [row.workload, row.sample, row.tune, row.asked, row.startLabel, row.rig, row.outcome, row.place, row.setAside].join('\n').toLowerCase()
  return find.toLowerCase().split(/\s+/).every((word) => text.includes(word))
}
