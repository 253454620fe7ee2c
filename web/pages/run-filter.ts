// Which runs a person wants to see, as the address of the page has it.
import { wantedOutcomeSchema, type WantedOutcome } from '@guardband/model/api'
import { idSchema } from '@guardband/model/ids'

export interface RunFilter {
  readonly find?: string | undefined
  readonly outcome?: WantedOutcome | undefined
  readonly workload?: string | undefined
  readonly tune?: string | undefined
  readonly sample?: string | undefined
  readonly since?: string | undefined
  readonly until?: string | undefined
}

export interface RunsSearch extends RunFilter {
  readonly from?: number | undefined
  /** A question, whose caution named `caution` rests on the runs shown. */
  readonly of?: string | undefined
  readonly caution?: string | undefined
}

/** An address may say anything; what is no filter is left out. */
export function runsSearch(raw: Readonly<Record<string, unknown>>): RunsSearch {
  const from = Number(raw['from'])
  return {
    from: Number.isInteger(from) && from > 0 ? from : undefined,
    find: textOf(raw['find']), outcome: outcomeOf(raw['outcome']), workload: idOf(raw['workload']), tune: idOf(raw['tune']), sample: idOf(raw['sample']),
    since: dayOf(raw['since']), until: dayOf(raw['until']), of: textOf(raw['of']), caution: textOf(raw['caution']),
  }
}

export function isFiltered(filter: RunFilter): boolean {
  return filter.find !== undefined || filter.outcome !== undefined || isNarrowed(filter)
}

/** By something other than words and outcome. */
export function isNarrowed({ workload, tune, sample, since, until }: RunFilter): boolean {
  return [workload, tune, sample, since, until].some((part) => part !== undefined)
}

/** As the hub takes it. */
export function filterInput({ find, outcome, workload, tune, sample, since, until }: RunFilter): Readonly<Record<string, string>> & { readonly outcome?: WantedOutcome } {
  return {
    ...(find === undefined ? {} : { find: find.slice(0, MOST_FIND) }),
    ...(outcome === undefined ? {} : { outcome }),
    ...(workload === undefined ? {} : { workloadId: workload }),
    ...(tune === undefined ? {} : { tuneId: tune }),
    ...(sample === undefined ? {} : { sampleId: sample }),
    ...(since === undefined ? {} : { since }),
    ...(until === undefined ? {} : { until }),
  }
}

export function outcomeOf(value: unknown): WantedOutcome | undefined {
  return wantedOutcomeSchema.safeParse(value).data
}

/** The hub takes no longer text. */
export const MOST_FIND = 200

/** A number in an address may be read as one already; an empty text is none. */
function textOf(value: unknown): string | undefined {
  if (typeof value === 'number') return String(value)
  return typeof value === 'string' && value !== '' ? value : undefined
}

function idOf(value: unknown): string | undefined {
  return idSchema.safeParse(value).data
}

function dayOf(value: unknown): string | undefined {
  return typeof value === 'string' && /^\d{4}-\d{2}-\d{2}$/.test(value) && !Number.isNaN(Date.parse(value)) ? value : undefined
}
