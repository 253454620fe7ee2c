// One slope common to several groups, each with its own level: ordinary least squares on deviations from the group means.
//
//   y = level(g) + slope x + e;  slope = Sxy / Sxx,  variance = (Syy - slope Sxy) / (df Sxx),  df = n - groups - 1
// Source: any text on the analysis of covariance, for instance Draper & Smith, Applied Regression Analysis (1998), chapter 14.

import { requireAllFinite, requireLength } from './check-argument.ts'

export interface TrendInput {
  /** Group label of each point; labels are only compared. */
  readonly groupOf: ArrayLike<number>
  readonly x: ArrayLike<number>
  readonly y: ArrayLike<number>
}

export type LinearTrend =
  | { readonly status: 'fitted'; readonly slope: number; readonly standardError: number; readonly df: number }
  | { readonly status: 'not identified'; readonly reason: 'x varies within no group' | 'no points left to tell the error' }

/**
 * The common slope with its standard error and degrees of freedom.
 *
 * 'not identified' when x does not vary within any group, or when groups and slope use up all points (df 0).
 * Points on exact parallel lines give standardError 0 (to rounding). Throws InvalidArgument when lengths differ or a value is not finite.
 *
 * @example linearTrend({ groupOf: [0, 0, 0, 0], x: [0, 1, 2, 3], y: [1, 3.1, 4.9, 7] }) // slope 1.98
 */
export function linearTrend({ groupOf, x, y }: TrendInput): LinearTrend {
  requireLength('y', y, x.length)
  requireLength('groupOf', groupOf, x.length)
  requireAllFinite('x', x)
  requireAllFinite('y', y)

  const groupIndex = denseLabels(groupOf)
  const groupCount = groupIndex.count
  const xMean = groupMeans(groupIndex, x)
  const yMean = groupMeans(groupIndex, y)

  let sxx = 0
  let sxy = 0
  let largest = 0
  for (let i = 0; i < x.length; i++) {
    const dx = x[i] - xMean[groupIndex.of[i]]
    sxx += dx * dx
    sxy += dx * (y[i] - yMean[groupIndex.of[i]])
    largest = Math.max(largest, Math.abs(x[i]))
  }
  // Below this the deviations are the rounding of the group means, not variation.
  if (sxx <= x.length * (4 * Number.EPSILON * largest) ** 2) return { status: 'not identified', reason: 'x varies within no group' }
  const df = x.length - groupCount - 1
  if (df < 1) return { status: 'not identified', reason: 'no points left to tell the error' }

  const slope = sxy / sxx
  let residual = 0
  for (let i = 0; i < x.length; i++) {
    const g = groupIndex.of[i]
    residual += (y[i] - yMean[g] - slope * (x[i] - xMean[g])) ** 2
  }
  return { status: 'fitted', slope, standardError: Math.sqrt(residual / df / sxx), df }
}

interface GroupIndex {
  readonly count: number
  readonly of: Int32Array
}

function denseLabels(labels: ArrayLike<number>): GroupIndex {
  const seen = new Map<number, number>()
  const of = new Int32Array(labels.length)
  for (let i = 0; i < labels.length; i++) {
    const known = seen.get(labels[i])
    of[i] = known ?? seen.size
    if (known === undefined) seen.set(labels[i], seen.size)
  }
  return { count: seen.size, of }
}

function groupMeans(groups: GroupIndex, values: ArrayLike<number>): Float64Array {
  const mean = new Float64Array(groups.count)
  const count = new Int32Array(groups.count)
  for (let i = 0; i < values.length; i++) {
    const g = groups.of[i]
    count[g] += 1
    mean[g] += (values[i] - mean[g]) / count[g]
  }
  return mean
}
