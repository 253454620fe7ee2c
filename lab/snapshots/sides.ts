// Which starts belong to which side of a Gain question: by what was in force, and by which sample sat in the slot compared.
import type { Assembly, GainAbout, InForce, Sample, Side, SideIndex, Start } from '@guardband/model'
import { SpokenError } from '@guardband/model'

/** One in-force stretch of a start. */
export interface Stretch {
  readonly start: Start
  readonly inForce: InForce
  /** Place among the in-force records of its start, from 0, and how many there are. */
  readonly place: number
  readonly of: number
  /** The sample in the slot compared, undefined when the assembly has none there and no processor. */
  readonly sampleId: string | undefined
}

export interface Sides {
  readonly sideOf: (stretch: Stretch) => SideIndex | null
  /** A start that was asked for this side's tune, whatever came of it. */
  readonly askedSide: (start: Start, sampleId: string | undefined) => SideIndex | null
  /** True when a side names no tune and both sides ran several tunes: each start then says at which. */
  readonly severalTunes: boolean
}

export function sortSides(about: GainAbout, stretches: readonly Stretch[], samples: ReadonlyMap<string, Sample>, nameStart: (start: Start) => string): Sides {
  const pair = [about.a, about.b] as const
  const holds = (side: Side, sampleId: string | undefined): boolean => sampleId !== undefined && sampleMatches(side, samples.get(sampleId))
  const tunesOf = (side: Side): ReadonlySet<string> =>
    side.tuneId === undefined
      ? new Set(stretches.flatMap(({ inForce, sampleId }) => (inForce.tuneId !== undefined && holds(side, sampleId) ? [inForce.tuneId] : [])))
      : new Set([side.tuneId])
  const ofB = tunesOf(about.b)
  const common = new Set([...tunesOf(about.a)].filter((tune) => ofB.has(tune)))
  /** A side that names only a part takes the tunes that both sides have been run at. */
  const allowed = pair.map((side) => (side.tuneId === undefined ? common : new Set([side.tuneId])))
  const decide = (tuneId: string | undefined, sampleId: string | undefined, start: Start): SideIndex | null => {
    if (tuneId === undefined) return null
    const inA = allowed[0].has(tuneId) && holds(about.a, sampleId)
    const inB = allowed[1].has(tuneId) && holds(about.b, sampleId)
    if (inA && inB) {
      throw new SpokenError({
        code: 'sides-overlap',
        message: `${nameStart(start)} counts for both sides of this question.`,
        mend: 'Name a part, a tune or samples so that no start fits both.',
      })
    }
    return inA ? 0 : inB ? 1 : null
  }
  return {
    sideOf: ({ inForce, sampleId, start }) => decide(inForce.tuneId, sampleId, start),
    askedSide: (start, sampleId) => decide(start.tuneId, sampleId, start),
    severalTunes: pair.some((side) => side.tuneId === undefined) && common.size > 1,
  }
}

/** The sample in the slot; where the assembly has none there, its first processor. */
export function sampleInSlot(assembly: Assembly | undefined, slot: GainAbout['slot']): string | undefined {
  return (assembly?.slots.find((candidate) => candidate.slot === slot) ?? assembly?.slots.find((candidate) => candidate.slot === 'processor'))?.sampleId
}

function sampleMatches(side: Side, sample: Sample | undefined): boolean {
  if (sample === undefined) return false
  if (side.partId !== undefined && sample.partId !== side.partId) return false
  return side.sampleIds === undefined || side.sampleIds.includes(sample.id)
}
