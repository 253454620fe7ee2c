// What is entered at a sheet, in the sentence that stands in the change log.
import { exact } from './figures.ts'
import type { Run } from './records/run.ts'
import type { Conditions } from './records/start.ts'
import type { Workload } from './records/workload.ts'
import { conditionsAhead, repeatsOf, type SheetEntry, type SheetRecords } from './sheet.ts'
import type { Sheet } from './records/sheet.ts'
import { unitText } from './units.ts'

export interface SheetNames {
  readonly workloads: readonly Workload[]
  readonly tuneName: (id: string) => string
}

/** "Entered tile render, repeat 2: 41.5 s". `records` as they were before the entry. */
export function entryWhat(sheet: Sheet, records: SheetRecords, entry: SheetEntry, names: SheetNames): string {
  const workload = (id: string): Workload | undefined => names.workloads.find((candidate) => candidate.id === id)
  const place = (run: Run): string => `${workload(run.workloadId)?.name ?? 'a run'}, repeat ${repeatsOf(records.runs, run.startId, run.workloadId).findIndex(({ id }) => id === run.id) + 1}`
  switch (entry.what) {
    case 'begin':
      return `Began ${startWords(sheet, entry.startId)}`
    case 'run': {
      const repeat = repeatsOf(records.runs, entry.startId, entry.workloadId).length + 1
      return `Entered ${workload(entry.workloadId)?.name ?? 'a run'}, repeat ${repeat}: ${endText(entry, workload(entry.workloadId))}`
    }
    case 'correct run': {
      const run = records.runs.find(({ id }) => id === entry.runId)
      if (run === undefined) return 'Corrected a run'
      const of = workload(run.workloadId)
      if (endText(entry, of) === endText(run, of)) return `Where it failed: ${place(run)}, ${[entry.phase, entry.place].filter((word) => word !== undefined && word !== '').join(', ') || 'not known'}`
      return `Corrected ${place(run)}: ${endText(entry, of)}, not ${endText(run, of)}`
    }
    case 'start failed':
      return `Entered ${startWords(sheet, entry.startId)}: ${entry.result}`
    case 'in force changed':
      return `In force from now on in ${startWords(sheet, entry.startId)}: ${entry.tuneId === undefined ? 'nothing that a tune names' : names.tuneName(entry.tuneId)} (${entry.known})`
    case 'known':
      return `What is in force in ${startWords(sheet, entry.startId)}: ${entry.known}`
    case 'remount':
      return 'Took the cooler off and mounted it anew'
    case 'conditions':
      return `Conditions of ${startWords(sheet, entry.startId)}: ${changedText(records.starts.find(({ id }) => id === entry.startId)?.conditions ?? conditionsAhead(sheet, records.starts), entry.conditions)}`
    case 'training':
      return `Memory training of ${startWords(sheet, entry.startId)}: ${entry.training.result}`
    case 'note': {
      const run = records.runs.find(({ id }) => id === entry.recordId)
      return `Noted at ${run === undefined ? startWords(sheet, entry.recordId) : place(run)}`
    }
  }
}

/** How a run ended, with its figures: "41.5 s, 88 W", "hung", "throttled, 52 s". */
export function endText(run: Pick<Run, 'outcome' | 'measures'>, workload: Workload | undefined): string {
  const figures = run.measures.map(({ name, value }) => {
    const unit = unitText(workload?.measures.find((measure) => measure.name === name)?.unit ?? '')
    return unit === '' ? exact(value) : `${exact(value)} ${unit}`
  })
  return [...(run.outcome === 'scored' && figures.length > 0 ? [] : [run.outcome]), ...figures].join(', ')
}

/** "firmware 1.05 (was 1.04)"; what is the same is left out. */
export function changedText(before: Conditions, after: Conditions): string {
  const keys = [...new Set([...Object.keys(before), ...Object.keys(after)])] as (keyof Conditions)[] // Both are of this type.
  const changes = keys.filter((key) => before[key] !== after[key]).map((key) => `${CONDITION_WORDS[key]} ${after[key] ?? 'not known'}${before[key] === undefined ? '' : ` (was ${before[key]})`}`)
  return changes.length === 0 ? 'as before' : changes.join(', ')
}

export const CONDITION_WORDS: Readonly<Record<keyof Conditions, string>> = {
  firmware: 'firmware', microcode: 'microcode', systemImage: 'system image', kernel: 'kernel', drivers: 'drivers', memory: 'memory', powerPlan: 'power plan', cooling: 'cooling', ambient: 'ambient', coolant: 'coolant', humidity: 'humidity', fans: 'fans', graphicsClocks: 'graphics clocks',
}

function startWords(sheet: Sheet, startId: string): string {
  const place = sheet.starts.findIndex((planned) => planned.startId === startId)
  return place === -1 ? 'a start' : `start ${place + 1} of "${sheet.name}"`
}
