// Things of the bench as a person with busy hands reads them: short names, and one sentence for each thing entered.
import type { BenchState } from '@guardband/model/api/phone'
import { exact } from '@guardband/model/figures'
import type { Run } from '@guardband/model/records/run'
import type { Sheet, SheetStart } from '@guardband/model/records/sheet'
import type { Workload } from '@guardband/model/records/workload'
import { settingText } from '@guardband/model/setting-text'
import { repeatsOf } from '@guardband/model/sheet'
import { unitText } from '@guardband/model/units'

export function sampleName(state: BenchState, sampleId: string): string {
  const sample = state.samples.find(({ id }) => id === sampleId)
  if (sample === undefined) return 'a sample that is not here'
  const part = state.parts.find(({ id }) => id === sample.partId)
  return part === undefined || part.name === sample.label ? sample.label : `${part.name}, ${sample.label}`
}

export function tuneName(state: BenchState, tuneId: string | undefined): string {
  return state.tunes.find(({ id }) => id === tuneId)?.name ?? 'no tune that is known'
}

export function workloadOf(state: BenchState, workloadId: string): Workload | undefined {
  return state.workloads.find(({ id }) => id === workloadId)
}

export function workloadName(state: BenchState, workloadId: string): string {
  return workloadOf(state, workloadId)?.name ?? 'a workload that is not here'
}

/** What the tune itself sets, a line each. */
export function tuneLines(state: BenchState, tuneId: string): readonly { readonly key: string; readonly value: string }[] {
  const tune = state.tunes.find(({ id }) => id === tuneId)
  return (tune?.settings ?? []).map(({ key, scope, asked }) => ({ key: [key, ...(scope.level === 'machine' || scope.level === 'package' ? [] : [`${scope.level} ${scope.index ?? ''}`.trim()])].join(', '), value: settingText(asked) }))
}

/** "3 of 12" as people count. */
export function placeOf(sheet: Sheet, planned: SheetStart): number {
  return sheet.starts.indexOf(planned) + 1
}

export function valueText(value: number, unit: string): string {
  const symbol = unitText(unit)
  return symbol === '' ? exact(value) : `${exact(value)} ${symbol}`
}

/** "41.5 s", "41.5 s, 88 W", or how it ended. */
export function resultText(workload: Workload | undefined, { outcome, measures }: Pick<Run, 'outcome' | 'measures'>): string {
  if (measures.length === 0) return outcome
  const values = measures.map(({ name, value }) => valueText(value, workload?.measures.find((measure) => measure.name === name)?.unit ?? '1')).join(', ')
  return outcome === 'scored' ? values : `${outcome}, ${values}`
}

/** The value typed when it is out of line with what this sheet has of the workload: a slip of the point, or of a key. */
export function oddValue(sheet: Sheet, runs: readonly Run[], asked: { readonly workloadId: string; readonly measure: string; readonly value: number }): number | undefined {
  const values = sheet.starts
    .flatMap(({ startId }) => repeatsOf(runs, startId, asked.workloadId))
    .flatMap(({ measures }) => measures.filter(({ name }) => name === asked.measure).map(({ value }) => value))
    .toSorted((a, b) => a - b)
  const middle = values[(values.length - 1) >> 1]
  if (middle === undefined || middle <= 0 || asked.value <= 0) return undefined
  const ratio = asked.value / middle
  return ratio > ODD_RATIO || ratio < 1 / ODD_RATIO ? middle : undefined
}

/** Runs of one workload on one bench stay within a few ten per cent; a point in the wrong place makes ten. */
const ODD_RATIO = 3
