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

  const centre = table.groups.map(columnMeans)
  const sums = sumRows(table, centre)
  const found = minimiseProfile(
    {
      height: (phi) => objectiveAt(sums, table.widest, residualCount, phi),
      at: (phi) => profileAt(sums, table.widest, residualCount, phi),
    },
    { low: LOWEST_PHI, high: HIGHEST_PHI },
  )
  if (found.place === 'high' || !found.point) return limit(table, shifted, found.evaluations)

  // A row mean known without error would outweigh all others; a row variance of 0 is the least that is believed in a table with holes.
  const point = found.place === 'low' ? profileAt(sums, table.widest, residualCount, 0) : found.point
  if (!point) return limit(table, shifted, found.evaluations)
  const sigma2 = point.rss / residualCount
  const atZero = found.place === 'low'
  return {
    status: atZero ? 'boundary' : 'converged',
    route: atZero ? 'row variance at zero' : 'profile',
    lambda: lambdaOf(point.phi, table.widest),
    sigma2,
    evaluations: found.evaluations,
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

/**
 * Beyond, the limit lambda = infinity is taken: it is off by exp(-phi), the factorisation of A by about 1e-15 exp(phi) (measured against closed forms).
 * They meet near 17, below 1e-7: a row deviation some thousand times the cell deviation.
 */
const HIGHEST_PHI = 17

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
    status: fit.sigma2 === 0 ? 'boundary' : 'converged',
    route: 'rows differ by a shift only',
    lambda: fit.levelVariance === 0 ? 0 : fit.levelVariance / fit.sigma2,
    sigma2: fit.sigma2,
    evaluations,
    means: fit.groups.map((g) => g.mu),
    basis: { kind: 'mean squares', fit, columns: table.groups.map((g) => g.columns) },
  }
}

