// Which parts of an answer a report shows, and in which order: the same for every form of report.
import { chanceText, type Answer, type AnswerScope, type Caution, type Lab, type View } from '@guardband/model'

export interface ReportInput {
  readonly title: string
  readonly lab: Pick<Lab, 'name' | 'simulated'>
  /** When it was published: ISO 8601. */
  readonly at: string
  readonly number: number
  readonly answers: readonly Answer[]
}

/** How a kind of question is called at the head of its answers. */
export const KIND_NAMES: Readonly<Record<Answer['kind'], string>> = { gain: 'Gain' }

/** Views with the headline's scope first. */
export function viewsInOrder(answer: Answer): readonly View[] {
  return [...answer.views.filter((view) => view.scope === answer.scope), ...answer.views.filter((view) => view.scope !== answer.scope)]
}

/** Whether a picture of this scope would show anything. */
export function hasFigures(answer: Answer, scope: AnswerScope): boolean {
  return answer.estimates.some((estimate) => estimate.scope === scope && estimate.role !== 'worth' && estimate.value !== null)
}

export function cautionsOf(answer: Answer, severity: Caution['severity']): readonly Caution[] {
  return answer.cautions.filter((caution) => caution.severity === severity)
}

/** Scope, kind of interval and basis: what no number may stand without. */
export function groundsOf(answer: Answer, scope: AnswerScope): readonly string[] {
  const drawn = answer.estimates.filter((estimate) => estimate.scope === scope && estimate.low !== null && estimate.role !== 'worth')
  const confidences = [...new Set(drawn.map((estimate) => `${chanceText(estimate.confidence)} interval`))]
  return [scope, ...confidences, answer.basis.sentence]
}

/** Names that people gave, which stand inside sentences. */
export function namesIn(answer: Answer): readonly string[] {
  const names = [...answer.sides, answer.question.title, answer.lab, ...answer.estimates.flatMap((estimate) => [estimate.label, estimate.group ?? ''])]
  return [...new Set(names)].filter((name) => name !== '')
}

/** A moment as it was given, to the minute: "2026-11-03 14:05 UTC". */
export function momentText(at: string): string {
  const [, day, time, zone] = /^(\d{4}-\d\d-\d\d)T(\d\d:\d\d)[^Z+-]*(Z|[+-]\d\d:?\d\d)?$/.exec(at) ?? []
  if (day === undefined) return at
  return `${day} ${time}${zone === undefined || zone === 'Z' ? ' UTC' : ` ${zone}`}`
}

export const SIMULATED = 'simulated'
export const SIMULATED_SENTENCE = 'Every record behind this report comes from a simulated bench, none from real hardware.'
