// A figure typed into a cell: read with point or comma, refused where it can't be, questioned where it looks like a slip of the decimal mark or the unit.
import { exact } from '@guardband/model/figures'
import type { Measure } from '@guardband/model/records/workload'
import { comparisonOf, unitText } from '@guardband/model/units'
import { typedFigure } from '../../pieces/typed-figure.ts'

export type TypedValue =
  | { readonly reads: 'nothing' }
  | { readonly reads: 'refused'; readonly sentence: string }
  | { readonly reads: 'value'; readonly value: number; /** Saved only when a person says that it is right. */ readonly question?: string }

export function readTyped(text: string, measure: Measure, neighbours: readonly number[]): TypedValue {
  const value = typedFigure(text)
  if (value === undefined) return { reads: 'nothing' }
  if (value === null) return { reads: 'refused', sentence: `${measure.name} must be a figure; got "${text.trim()}".` }
  if (value <= 0 && comparisonOf(measure.unit) === 'ratio') {
    return { reads: 'refused', sentence: `${measure.name} must be above zero; got ${text.trim()}. A run that failed has a letter of its own.` }
  }
  const question = questionOf(value, measure, neighbours)
  return { reads: 'value', value, ...(question === undefined ? {} : { question }) }
}

/** Undefined where the value fits its neighbours, or has none. */
function questionOf(value: number, measure: Measure, neighbours: readonly number[]): string | undefined {
  const usual = medianOf(neighbours.filter((neighbour) => neighbour > 0))
  if (usual === undefined || value <= 0) return undefined
  const decades = Math.log10(value / usual)
  if (Math.abs(decades) < SLIP_DECADES) return undefined
  const times = exact(10 ** Math.round(Math.abs(decades)))
  const against = decades > 0 ? `about ${times} times` : times === '10' ? 'about a tenth of' : `about a ${times}th of`
  const unit = Math.round(Math.abs(decades)) === 3 ? ' Another unit?' : ''
  return `${withUnit(value, measure)} is ${against} what it usually reads, ${withUnit(usual, measure)}.${unit}`
}

function withUnit(value: number, measure: Measure): string {
  const unit = unitText(measure.unit)
  const text = exact(Number(value.toPrecision(SHOWN_DIGITS)))
  return unit === '' ? text : `${text} ${unit}`
}

function medianOf(values: readonly number[]): number | undefined {
  if (values.length === 0) return undefined
  const sorted = values.toSorted((a, b) => a - b)
  return (sorted[(sorted.length - 1) >> 1] + sorted[sorted.length >> 1]) / 2
}

/** A slipped decimal mark is one decade; half of one lies beyond what runs of one workload differ by, and catches every slip of one that differs by less than threefold. */
const SLIP_DECADES = 0.5
const SHOWN_DIGITS = 6
