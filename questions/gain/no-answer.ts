// When there is nothing to compare: an answer that says so in a sentence, with no figure anywhere.
import { counted, type Answer, type GainSnapshot } from '@guardband/model'
import { basisOf } from './basis.ts'
import type { Cells } from './cells.ts'
import { unusableCaution } from './cautions.ts'
import { list } from './fairness.ts'
import { GAIN_REVISION } from './revision.ts'
import { SIDES } from './selection.ts'
import { NO_ANSWER } from './verdict.ts'

/** Why a side has nothing to compare, or null when both have scores. */
export function noAnswerReason(snapshot: GainSnapshot, cells: Cells): string | null {
  const reasons = SIDES.map((side) => sideReason(snapshot, cells, side)).filter((reason) => reason !== null)
  return reasons.length === 0 ? null : `${reasons.join(' ')} There is nothing to compare.`
}

export function noAnswer(parts: { readonly snapshot: GainSnapshot; readonly cells: Cells; readonly digest: string; readonly reason: string }): Answer {
  const { snapshot, cells, digest, reason } = parts
  const view = { headline: [{ text: 'No answer', verdict: true }, { text: `: ${reason.charAt(0).toLowerCase()}${reason.slice(1)}` }], verdict: NO_ANSWER, unavailable: reason }
  return {
    schema: 1, kind: 'gain', revision: GAIN_REVISION, question: snapshot.question, lab: snapshot.lab.name, simulated: snapshot.lab.simulated, snapshotDigest: digest, status: 'no answer',
    sides: [snapshot.sides[0].label, snapshot.sides[1].label], scope: 'these samples',
    views: [{ scope: 'these samples', ...view }, { scope: 'samples like these', ...view }],
    estimates: [], basis: basisOf(snapshot, cells, null),
    cautions: cells.unusable.length === 0 ? [] : [unusableCaution(snapshot, cells.unusable)],
    settle: null, sections: [], methods: [], band: '',
  }
}

function sideReason(snapshot: GainSnapshot, cells: Cells, side: 0 | 1): string | null {
  const label = snapshot.sides[side].label
  if (cells.scored[side].some((count) => count > 0)) return null
  const runs = snapshot.runs.start.filter((start) => snapshot.starts[start].side === side).length
  if (runs === 0) return `${label} has no runs yet.`
  const failed = cells.failedRuns.filter((run) => run.side === side)
  const unusable = cells.unusable.filter((run) => run.side === side)
  const texts = [
    ...(failed.length > 0 ? [`${counted(failed.length, 'run')} ended without a score (${list([...new Set(failed.map((run) => run.outcome))].sort())})`] : []),
    ...(unusable.length > 0 ? [`${counted(unusable.length, 'run')} gave no score that can be compared`] : []),
    ...(failed.length + unusable.length < runs ? [`${counted(runs - failed.length - unusable.length, 'run')} set aside or stopped by a person`] : []),
  ]
  return `${label} has no score that counts: ${list(texts)}.`
}
