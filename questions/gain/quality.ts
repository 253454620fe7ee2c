// What a measure is about, the words that compare it, and the smallest change that matters in it.
import { findUnit, type GainSnapshot, type GainWorkload } from '@guardband/model'

export interface Quality {
  readonly name: 'speed' | 'thrift' | 'coolness' | 'quiet'
  readonly better: string
  readonly worse: string
  readonly compares: 'ratio' | 'difference'
  /** How a change in it is written: "%", "degC", "dBA". */
  readonly unit: string
}

const QUALITIES: Readonly<Record<Quality['name'], Quality>> = {
  speed: { name: 'speed', better: 'faster', worse: 'slower', compares: 'ratio', unit: '%' },
  thrift: { name: 'thrift', better: 'thriftier', worse: 'hungrier', compares: 'ratio', unit: '%' },
  coolness: { name: 'coolness', better: 'cooler', worse: 'hotter', compares: 'difference', unit: 'degC' },
  quiet: { name: 'quiet', better: 'quieter', worse: 'louder', compares: 'difference', unit: 'dBA' },
}

/** House defaults for what is not speed (DESIGN: 2 % power, 2 degC, 1 dBA); a workload's own figure goes before them. */
const MATTERS: Readonly<Record<Exclude<Quality['name'], 'speed'>, number>> = { thrift: 2, coolness: 2, quiet: 1 }

export function qualityOf(workload: GainWorkload): Quality {
  const quantity = findUnit(workload.unit)?.quantity
  if (quantity === 'power' || quantity === 'energy') return QUALITIES.thrift
  if (quantity === 'temperature') return QUALITIES.coolness
  if (quantity === 'sound level') return QUALITIES.quiet
  return QUALITIES.speed
}

/** Smallest change that matters on the scale computed on: a log ratio, or the difference itself. */
export function matters(snapshot: GainSnapshot, quality: Quality, own?: number): number {
  const figure = own ?? (quality.name === 'speed' ? snapshot.smallestGain.percent : MATTERS[quality.name])
  return quality.compares === 'ratio' ? Math.log1p(figure / 100) : figure
}

/** The quality that the overall speaks of: the one with most weight, the first in the snapshot where two weigh the same. */
export function mainQuality(snapshot: GainSnapshot): Quality {
  const weight = new Map<Quality, number>()
  for (const workload of snapshot.workloads) weight.set(qualityOf(workload), (weight.get(qualityOf(workload)) ?? 0) + workload.weight)
  let best = qualityOf(snapshot.workloads[0])
  for (const [quality, total] of weight) if (total > (weight.get(best) ?? 0)) best = quality
  return best
}

/** From the scale computed on to the unit shown: percent for ratios. */
export function shown(value: number, quality: Quality): number {
  return quality.compares === 'ratio' ? 100 * Math.expm1(value) : value
}
