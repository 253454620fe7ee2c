// Restricted maximum likelihood for the row-intercept model, where no closed form holds.
// Method and symbols: docs/methods/row-intercepts.md.

import { fitMeanSquares, type MeanSquares } from './mean-squares-fit.ts'
import { minimiseProfile } from './minimise-profile.ts'
import type { Information, Outcome } from './outcome.ts'
import { lambdaOf, objectiveAt, profileAt, type ProfilePoint } from './row-profile.ts'
import { sumRows } from './row-sums.ts'
import { columnMeans, type RowTable } from './row-table.ts'

/** Fits a table that has degrees of freedom for both variances. Balanced tables may come here too: the result is the closed form's. */
export function fitByLikelihood(table: RowTable): Outcome {
  const residualCount = table.cellCount - table.groups.reduce((sum, g) => sum + g.columns.length, 0)
  const shifted = fitMeanSquares(table)
  if (shifted.sigma2 === 0) return limit(table, shifted, 0)

  const rough = table.groups.map(columnMeans)
  const roughSums = sumRows(table, rough)
  const found = minimiseProfile(
    {
      height: (phi) => objectiveAt(roughSums, table.widest, residualCount, phi),
      at: (phi) => profileAt(roughSums, table.widest, residualCount, phi),
    },
    { low: LOWEST_PHI, high: HIGHEST_PHI },
  )
  if (found.place === 'high' || !found.point) return limit(table, shifted, found.evaluations)

  // A row mean known without error would outweigh all others; a row variance of 0 is the least that is believed in a table with holes.
  const start = found.place === 'low' ? profileAt(roughSums, table.widest, residualCount, 0) : found.point
  if (!start) return limit(table, shifted, found.evaluations)
  const centre = rough.map((c, g) => c.map((m, w) => m + start.groups[g].delta[w]))
  const sums = sumRows(table, centre)
  let point = profileAt(sums, table.widest, residualCount, start.phi) ?? start
  let evaluations = found.evaluations + 1
  for (let i = 0; found.place === 'inside' && i < POLISH_STEPS; i++) {
    const next = point.curvature > 0 ? profileAt(sums, table.widest, residualCount, point.phi - point.slope / point.curvature) : null
    evaluations += 1
    if (!next || Math.abs(next.slope) >= Math.abs(point.slope)) break
    point = next
  }
  const sigma2 = point.rss / residualCount
  const atZero = found.place === 'low'
  return {
    status: atZero ? 'boundary' : 'converged',
    route: atZero ? 'row variance at zero' : 'profile',
    lambda: lambdaOf(point.phi, table.widest),
    sigma2,
    evaluations,
    means: centre.map((c, g) => c.map((m, w) => m + point.groups[g].delta[w])),
    basis: {
      kind: 'likelihood',
      sigma2,
      columns: table.groups.map((g) => g.columns),
      groups: point.groups.map(({ factor, matrixSlope }) => ({ factor, matrixSlope })),
      information: atZero ? expectedInformation(point, residualCount) : observedInformation(point, residualCount, sigma2),
    },
  }
}

/** phi = -12 is a widest row whose mean has 6e-6 of the variance independent cells would give it: the likelihood then runs to 0. */
const LOWEST_PHI = -12

/** phi = 26 is a row variance 2e11 times the cell variance; the limit used beyond is closer than the factorisation could be. */
const HIGHEST_PHI = 26

/** Newton steps after centring anew; the start is already at the minimum up to cancellation. */
const POLISH_STEPS = 3

/** Minus the second derivatives of the REML log likelihood at a stationary point. */
function observedInformation(point: ProfilePoint, residualCount: number, sigma2: number): Information {
  return {
    scale: residualCount / 2,
    cross: -point.rssSlope / (2 * sigma2),
    phi: (point.logCurvature + point.rssCurvature / sigma2) / 2,
  }
}

/** Their expectation, which stays positive definite away from a stationary point. */
function expectedInformation(point: ProfilePoint, residualCount: number): Information {
  return { scale: residualCount / 2, cross: point.logSlope / 2, phi: (point.logSlope - point.logCurvature) / 2 }
}

function limit(table: RowTable, fit: MeanSquares, evaluations: number): Outcome {
  return {
    status: 'boundary',
    route: 'rows differ by a shift only',
    lambda: fit.levelVariance === 0 ? 0 : Infinity,
    sigma2: fit.sigma2,
    evaluations,
    means: fit.groups.map((g) => g.mu),
    basis: { kind: 'mean squares', fit, columns: table.groups.map((g) => g.columns) },
  }
}

