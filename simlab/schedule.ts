// In which order the starts of a scenario's design happen on its rig.
import type { Scenario } from './scenario.ts'

export type SideIndex = 0 | 1

export interface ScheduledStart {
  readonly side: SideIndex
  /** Index among all samples of the lab; where sides have different samples those of side B follow those of side A. */
  readonly sample: number
}

export type Design = Scenario['design']

export function scheduleStarts(design: Design): readonly ScheduledStart[] {
  switch (design.order) {
    case 'interleaved':
      return design.samples === 'same' ? sampleBySample(design) : visitsInTurn(design).flatMap((visit) => repeatedVisit(design, visit))
    case 'interleaved rounds':
      return rounds(design, [0, 1])
    case 'A before B':
      return [...rounds(design, [0]), ...rounds(design, [1])]
    case 'B later':
      return laterOnB(design)
  }
}

export function sampleCount(design: Design): number {
  return design.samples === 'same' ? design.starts.a.length : design.starts.a.length + design.starts.b.length
}

/** Samples of one side, as indices among all samples of the lab. */
export function samplesOf(design: Design, side: SideIndex): readonly number[] {
  const offset = side === 1 && design.samples === 'different' ? design.starts.a.length : 0
  return startsOf(design, side).map((_, index) => offset + index)
}

/** Starts that a sample gets on a side; 0 where it never sits on that side. */
export function plannedStarts(design: Design, visit: ScheduledStart): number {
  return startsOf(design, visit.side)[samplesOf(design, visit.side).indexOf(visit.sample)] ?? 0
}

function startsOf(design: Design, side: SideIndex): readonly number[] {
  return side === 0 ? design.starts.a : design.starts.b
}

function repeatedVisit(design: Design, visit: ScheduledStart): readonly ScheduledStart[] {
  return Array.from({ length: plannedStarts(design, visit) }, () => visit)
}

/** A B, B A, A B ... on one sample after the other. */
function sampleBySample(design: Design): readonly ScheduledStart[] {
  return samplesOf(design, 0).flatMap((sample) => {
    const left = [plannedStarts(design, { side: 0, sample }), plannedStarts(design, { side: 1, sample })]
    const starts: ScheduledStart[] = []
    for (let block = 0; left[0] + left[1] > 0; block++) {
      for (const side of block % 2 === 0 ? ([0, 1] as const) : ([1, 0] as const)) {
        if (left[side] === 0) continue
        left[side] -= 1
        starts.push({ side, sample })
      }
    }
    return starts
  })
}

/** On one sample after the other: all of A but its last start, one of B, the last of A, the rest of B. */
function laterOnB(design: Design): readonly ScheduledStart[] {
  return samplesOf(design, 0).flatMap((sample) => {
    const [a, b] = ([0, 1] as const).map((side) => repeatedVisit(design, { side, sample }))
    return [...a.slice(1), ...b.slice(0, 1), ...a.slice(0, 1), ...b.slice(1)]
  })
}

/** Every sample once, the sides spread evenly over the campaign; equal counts give A B, B A, A B ... */
function visitsInTurn(design: Design): readonly ScheduledStart[] {
  const placed = ([0, 1] as const).flatMap((side) => {
    const samples = samplesOf(design, side)
    return samples.map((sample, index) => ({ side, sample, index, place: (index + 0.5) / samples.length }))
  })
  return placed
    .toSorted((one, other) => one.place - other.place || ((one.index + other.index) % 4 < 2 ? one.side - other.side : other.side - one.side))
    .map(({ side, sample }) => ({ side, sample }))
}

/** Every sample of these sides once a round, every second round backwards. */
function rounds(design: Design, sides: readonly SideIndex[]): readonly ScheduledStart[] {
  const visits = visitsInTurn(design).filter((visit) => sides.includes(visit.side))
  const most = Math.max(...design.starts.a, ...design.starts.b)
  return Array.from({ length: most }, (_, round) => {
    const due = visits.filter((visit) => plannedStarts(design, visit) > round)
    return round % 2 === 0 ? due : due.toReversed()
  }).flat()
}
