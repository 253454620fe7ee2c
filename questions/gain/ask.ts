// What a Gain question is about, and what its form starts from.
import { gainAboutSchema, type GainAbout } from '@guardband/model'

export const askGain = {
  kind: 'gain',
  asks: 'Is B faster (cooler, thriftier, quieter) than A, and by how much?',
  schema: gainAboutSchema,
} as const

/** Smallest gain that matters, in percent, before anybody says otherwise: 1 part against part, 0.5 for a tuning step. */
export function defaultSmallestGain(about: Pick<GainAbout, 'a' | 'b'>): number {
  return about.a.partId === about.b.partId ? TUNING_STEP : PART_AGAINST_PART
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
