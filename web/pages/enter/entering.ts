// What a cell's texts become: an entry, a question to the person, or a sentence that says what is wrong with them.
import type { Run } from '@guardband/model/records/run'
import type { Workload } from '@guardband/model/records/workload'
import type { SheetEntry } from '@guardband/model/sheet'
import type { RunOutcome } from './keys.ts'
import { readTyped } from './typed-value.ts'

export type Reading =
  | { readonly reads: 'refused'; readonly sentence: string }
  /** Nothing stands there, or what stood there already. */
  | { readonly reads: 'same' }
  | { readonly reads: 'entry'; readonly entry: SheetEntry; /** Asked before it is saved. */ readonly question?: string }

export function readCell(input: {
  readonly startId: string
  readonly workload: Workload
  readonly run: Run | undefined
  readonly texts: readonly string[]
  /** None: a plain Enter. */
  readonly outcome: RunOutcome | undefined
  /** What each measure of this workload usually reads. */
  readonly neighbours: (measure: string) => readonly number[]
}): Reading {
  const { startId, workload, run, texts, outcome, neighbours } = input
  const measures: Run['measures'] = []
  const questions: string[] = []
  for (const [place, measure] of workload.measures.entries()) {
    const typed = readTyped(texts[place] ?? '', measure, neighbours(measure.name))
    if (typed.reads === 'refused') return typed
    if (typed.reads === 'nothing') continue
    measures.push({ name: measure.name, value: typed.value })
    // What is on disk was let pass before.
    if (typed.question !== undefined && valueOf(run, measure.name) !== typed.value) questions.push(typed.question)
  }
  const question = questions.length === 0 ? {} : { question: questions.join(' ') }
  if (run === undefined) {
    if (outcome === undefined && measures.length === 0) return { reads: 'same' }
    return { reads: 'entry', entry: { what: 'run', startId, workloadId: workload.id, outcome: outcome ?? 'scored', measures }, ...question }
  }
  if (outcome === undefined && measures.length === 0 && run.measures.length > 0) {
    return { reads: 'refused', sentence: 'A run is not taken out by emptying its cell. Esc brings its figure back; u takes the last entry back; a run that should not count is set aside on its own page.' }
  }
  // A figure in place of a failure means that it scored after all.
  const ended = outcome ?? (sameMeasures(run, measures) || run.outcome === 'passed' || run.outcome === 'throttled' ? run.outcome : 'scored')
  if (ended === run.outcome && sameMeasures(run, measures)) return { reads: 'same' }
  const failed = ended === run.outcome ? { ...(run.phase === undefined ? {} : { phase: run.phase }), ...(run.place === undefined ? {} : { place: run.place }) } : {}
  return { reads: 'entry', entry: { what: 'correct run', runId: run.id, outcome: ended, measures, ...failed }, ...question }
}

function valueOf(run: Run | undefined, measure: string): number | undefined {
  return run?.measures.find(({ name }) => name === measure)?.value
}

function sameMeasures(run: Run, measures: Run['measures']): boolean {
  return run.measures.length === measures.length && measures.every(({ name, value }) => valueOf(run, name) === value)
}
