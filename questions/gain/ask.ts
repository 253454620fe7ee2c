// What a Gain question is about, and what its form starts from.
import { gainAboutSchema, type Campaign, type GainAbout, type SmallestGainOffer } from '@guardband/model'

export const askGain = {
  kind: 'gain',
  asks: 'Is B faster (cooler, thriftier, quieter) than A, and by how much?',
  schema: gainAboutSchema,
} as const

/** Smallest gain that matters, in percent, before anybody says otherwise: 1 part against part, 0.5 for a tuning step. */
export function defaultSmallestGain(about: Pick<GainAbout, 'a' | 'b'>): number {
  return about.a.partId === about.b.partId ? TUNING_STEP : PART_AGAINST_PART
}

/**
 * What a question about these sides starts from: the smallest gain of a plan that tried both tunes, otherwise the house default. Of several plans the
 * one that fixed it last counts, so that a limit lowered after the first runs shows as fixed after them.
 */
export function smallestGainFor({ a, b }: Pick<GainAbout, 'a' | 'b'>, campaigns: readonly Campaign[]): SmallestGainOffer {
  const house = { from: 'house', percent: defaultSmallestGain({ a, b }) } as const
  if (a.partId !== b.partId || a.tuneId === b.tuneId) return house
  const plans = campaigns.flatMap(({ name, tuneIds = [], smallestGain }) => {
    const both = [a, b].every(({ tuneId }) => tuneId !== undefined && tuneIds.includes(tuneId))
    return both && smallestGain !== undefined ? [{ from: 'plan', plan: name, ...smallestGain } as const] : []
  })
  return plans.toSorted((one, other) => Date.parse(other.fixedAt) - Date.parse(one.fixedAt))[0] ?? house
}

const PART_AGAINST_PART = 1
const TUNING_STEP = 0.5

export interface SideNames {
  readonly part?: string
  readonly tune?: string
}

/** How a side reads: what differs from the other side comes first. */
export function sideLabel(own: SideNames, other: SideNames): string {
  const differs = { part: own.part !== other.part, tune: own.tune !== other.tune }
  if (differs.part && differs.tune && own.part !== undefined && own.tune !== undefined) return `${own.part} at ${own.tune}`
  if (differs.part && own.part !== undefined) return own.part
  if (own.tune !== undefined) return own.tune
  return own.part ?? 'unnamed'
}
