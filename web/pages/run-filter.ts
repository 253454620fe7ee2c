// Which runs a person wants to see, as the address of the page has it: words anywhere in the row, and how the run ended.
import { wantedOutcomeSchema, type WantedOutcome } from '@guardband/model/api'

export interface RunFilter {
  readonly find?: string | undefined
  readonly outcome?: WantedOutcome | undefined
}

export function isFiltered(filter: RunFilter): boolean {
  return filter.find !== undefined || filter.outcome !== undefined
}

/** An address may say anything; what is no outcome is left out. */
export function outcomeOf(value: unknown): WantedOutcome | undefined {
  return wantedOutcomeSchema.safeParse(value).data
}

/** The hub takes no longer text. */
export const MOST_FIND = 200
