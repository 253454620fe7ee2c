// The figures of an answer as rows for a spreadsheet: unrounded, one line an estimate, with scope and evidence.
import type { Answer, AnswerScope } from '@guardband/model/answer'

export function answerRows(answer: Answer, scope: AnswerScope): readonly (readonly (string | number | null)[])[] {
  const [a, b] = answer.sides
  const header = [
    'what', 'group', 'label', 'value', 'from', 'to', 'unit', 'confidence', 'in words', 'scope',
    `samples, ${a}`, `samples, ${b}`, `starts, ${a}`, `starts, ${b}`, `runs, ${a}`, `runs, ${b}`, `failed, ${a}`, `failed, ${b}`, 'note', 'snapshot', 'data',
  ]
  const rows = answer.estimates
    .filter((estimate) => estimate.scope === scope)
    .map((estimate) => [
      estimate.role, estimate.group ?? '', estimate.label, estimate.value, estimate.low, estimate.high, estimate.unit, estimate.confidence, estimate.verdict?.words ?? '', estimate.scope,
      ...estimate.samples, ...estimate.starts, ...estimate.runs, ...estimate.failed, estimate.note ?? '', answer.snapshotDigest, answer.simulated ? 'simulated' : 'recorded',
    ])
  return [header, ...rows]
}
