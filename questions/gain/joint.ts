// Many workloads, one set of claims: which single verdicts still stand when all are looked at together.
import { holm, normalCdf, tUpperTail } from '@guardband/engine'
import type { Answer, AnswerScope } from '@guardband/model'
import { CONFIDENCE, type Contrast } from './contrast.ts'
import { list } from './fairness.ts'
import type { Quality } from './quality.ts'

interface Row {
  readonly label: string
  readonly contrast: Contrast
  readonly quality: Quality
}

/** Holm's step-down over the workloads' two-sided tests against no difference; null with fewer than two intervals. */
export function jointSection(rows: readonly Row[], scope: AnswerScope): Answer['sections'][number] | null {
  const tested = rows.filter((row) => row.contrast.standardError !== null)
  if (tested.length < 2) return null
  const adjusted = holm(tested.map((row) => twoSided(row.contrast)))
  const stands = tested.filter((_, index) => adjusted[index] < 1 - CONFIDENCE)
  const words = (direction: 'better' | 'worse') =>
    [...new Set(stands.map((row) => row.quality[direction]))].map((word) => {
      const labels = stands.filter((row) => row.quality[direction] === word && row.contrast.estimate > 0 === (direction === 'better')).map((row) => row.label)
      if (labels.length === 0) return null
      return labels.length === tested.length && labels.length > 1 ? `${word} in all of them` : `${word} in ${list(labels)}`
    })
  const claims = [...words('better'), ...words('worse')].filter((claim) => claim !== null)
  const sentence =
    stands.length === 0
      ? `Looked at together, no single workload's difference is beyond chance (${tested.length} workloads, 95 % for all at once).`
      : `Looked at together (${tested.length} workloads, 95 % for all at once): ${claims.join('; ')}${stands.length < tested.length ? '; the others could be chance' : ''}.`
  return { code: 'joint', title: `All workloads at once (${scope})`, sentences: [sentence, 'Holm’s step-down test, on the estimates and standard errors behind the intervals shown.'] }
}

function twoSided(contrast: Contrast): number {
  const error = contrast.standardError ?? 0
  if (error === 0) return contrast.estimate === 0 ? 1 : 0
  const distance = Math.abs(contrast.estimate) / error
  return 2 * (contrast.df === null ? normalCdf(-distance) : tUpperTail(distance, contrast.df))
}
