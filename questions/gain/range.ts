// What stretch of the axis a panel shows: zero and the bands always, all estimates where they are of a size, and most of them where a few are far wider.
import { scaleLinear } from 'd3-scale'
import { signed, type Estimate } from '@guardband/model'
import { textWidth, type TextStyle } from '../text-width.ts'

export interface Axis {
  readonly low: number
  readonly high: number
  readonly ticks: readonly { readonly value: number; readonly text: string }[]
}

/** The plotted range in the unit of the estimates. Where at most a third of them reaches much farther than the rest, those run out of it. */
export function plottedRange(estimates: readonly Estimate[]): { readonly low: number; readonly high: number } {
  const drawn = estimates.filter((estimate) => estimate.value !== null)
  const bands = estimates.flatMap((estimate) => finite([estimate.bandLow, estimate.bandHigh]))
  const foot = drawn.filter((estimate) => estimate.role === 'overall').flatMap(endsOf)
  const reaches = drawn.filter((estimate) => estimate.role !== 'overall').map((estimate) => Math.max(...endsOf(estimate).map(Math.abs)))
  const usual = reaches.toSorted((a, b) => a - b)[Math.ceil(reaches.length * SHARE_THAT_FITS) - 1] ?? 0
  const points = drawn.map((estimate) => estimate.value ?? 0).filter((value) => Math.abs(value) <= usual * FARTHER_POINT_IS_CUT)
  const must = [0, ...bands, ...foot, ...points].map(clampToAxis)
  const limit = Math.max(usual * FARTHER_IS_CUT, ...must.map(Math.abs))
  const ends = [...must, ...drawn.flatMap(endsOf).map((end) => clampToAxis(Math.max(-limit, Math.min(limit, end))))]
  const low = Math.min(...ends)
  const high = Math.max(...ends)
  if (high - low < LEAST_SPAN) return { low: -1, high: 1 }
  const spare = (high - low) * SPARE
  return { low: low - spare, high: high + spare }
}

/** Range and ticks for a plot of this width: as many ticks as stand apart, at round values, each with as many decimals as the step needs. */
export function layOutAxis(range: { readonly low: number; readonly high: number }, width: number, style: TextStyle): Axis {
  for (let wanted = Math.max(2, Math.floor(width / PIXELS_PER_TICK)); wanted >= 2; wanted--) {
    const ticks = ticksOf(range, wanted)
    const widest = Math.max(0, ...ticks.map((tick) => textWidth(tick.text, style)))
    const step = ticks.length > 1 ? ((ticks[1].value - ticks[0].value) / (range.high - range.low)) * width : width
    if (widest + TICK_GAP <= step) return { ...range, ticks }
  }
  return { ...range, ticks: ticksOf(range, 2).filter((tick) => tick.value === 0) }
}

function ticksOf(range: { readonly low: number; readonly high: number }, count: number): Axis['ticks'] {
  const values = scaleLinear().domain([range.low, range.high]).ticks(count)
  const step = values.length > 1 ? values[1] - values[0] : 1
  const decimals = Math.max(0, -Math.floor(Math.log10(step) + STEP_SLACK))
  return values.map((value) => ({ value, text: signed(value, decimals) }))
}

function endsOf(estimate: Estimate): number[] {
  return finite([estimate.value, estimate.low, estimate.high])
}

function finite(values: readonly (number | null)[]): number[] {
  return values.filter((value) => value !== null)
}

function clampToAxis(value: number): number {
  return Math.max(-FARTHEST, Math.min(FARTHEST, value))
}

/** Two of three rows always fit; the others' intervals where they reach less than 2.5 times as far, their points less than 8 times. */
const SHARE_THAT_FITS = 2 / 3
const FARTHER_IS_CUT = 2.5
const FARTHER_POINT_IS_CUT = 8
/** Share of the range left empty at either end, so that bars don't touch the edge. */
const SPARE = 0.05
/** In the estimate's unit: no instrument of a bench tells less apart. */
const LEAST_SPAN = 1e-3
/** In the estimate's unit: past this, tick labels get wider than any plot. */
const FARTHEST = 1e9
const PIXELS_PER_TICK = 60
const TICK_GAP = 10
/** Keeps a step of 0.1 (stored as 0.09999...) at one decimal. */
const STEP_SLACK = 1e-9
