// Several p values looked at together: the chance of any false alarm stays below the level, whatever their dependence.
//
// Step-down: with p sorted rising, adjusted_(i) = max over j <= i of min(1, (m - j + 1) p_(j)).
// Source: S. Holm, Scandinavian Journal of Statistics 6 (1979) 65-70.

import { requireProbability } from './check-argument.ts'

/**
 * Adjusted p values in the order given; compare each with the level directly. Equal p values get equal adjusted values.
 *
 * An empty list gives an empty list. Throws InvalidArgument when a value is not a probability.
 *
 * @example holm([0.01, 0.04, 0.03]) // [0.03, 0.06, 0.06]
 */
export function holm(pValues: ArrayLike<number>): Float64Array {
  const m = pValues.length
  for (let i = 0; i < m; i++) requireProbability(`pValues[${i}]`, pValues[i])
  const order = Array.from({ length: m }, (_unused, i) => i).sort((a, b) => pValues[a] - pValues[b])
  const adjusted = new Float64Array(m)
  let floor = 0
  order.forEach((index, rank) => {
    floor = Math.max(floor, Math.min(1, (m - rank) * pValues[index]))
    adjusted[index] = floor
  })
  return adjusted
}
