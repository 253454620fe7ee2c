// What a command's end amounts to: its outcome, and the measures that it printed or wrote.
import { comparisonOf, fixed, unitText, type JournalBodyOf, type PlanWorkload } from '@guardband/model'
import { fileMark, readNumber } from './reading.ts'
import type { CommandEnd } from './command-driver.ts'
import type { MeasureValue } from './driver.ts'
import type { PatternFinder } from './pattern-finder.ts'

export type Judgement = Pick<JournalBodyOf<'end'>, 'outcome'> & { readonly measures: readonly MeasureValue[]; readonly message: string | null }

/** Marks of the result files before a run, by file: one left over from an earlier run is no result of this one. */
export type FileMarks = ReadonlyMap<string, string | null>

export async function markResultFiles(workload: PlanWorkload, folder: string): Promise<FileMarks> {
  const files = workload.measures.flatMap(({ reading }) => ('file' in reading ? [reading.file] : []))
  return new Map(await Promise.all(files.map(async (file): Promise<[string, string | null]> => [file, await fileMark(file, folder)])))
}

export interface MeasureOrder {
  readonly workload: PlanWorkload
  /** Null where a person carried it out. */
  readonly end: CommandEnd | null
  readonly folder: string
  readonly before: FileMarks
  readonly patterns: PatternFinder
}

export interface JudgeOrder extends MeasureOrder {
  readonly end: CommandEnd
}

/**
 * Stopped by a person; hung past its time limit; died by a signal; errors by its exit status; and where a measure is missing, old, no finite
 * number, or not above zero in a unit that compares as a ratio, a wrong result. Only what passes all of it is scored, or passed where it has no measures.
 */
export async function judgeRun(order: JudgeOrder): Promise<Judgement> {
  const { end, workload } = order
  if (end.how === 'stopped') return { outcome: 'stopped by a person', measures: [], message: null }
  if (end.how === 'time limit') return { outcome: 'hung', measures: [], message: `ended with all that it started after its time limit of ${workload.command?.timeLimitSeconds ?? 0} s` }
  if (end.how === 'not started') return { outcome: 'errors', measures: [], message: `did not start: ${end.message ?? 'no reason given'}` }
  if (end.exitStatus === null) return { outcome: 'program died', measures: [], message: withLastWords(`died by ${end.signal ?? 'an unknown signal'} after ${fixed(end.seconds, 2)} s`, end) }
  if (end.exitStatus !== 0) return { outcome: 'errors', measures: [], message: withLastWords(`ended with status ${end.exitStatus}`, end) }
  return readMeasures(order)
}

/** Those that a person types are asked for after this. */
export async function readMeasures({ workload, end, folder, before, patterns }: MeasureOrder): Promise<Judgement> {
  const measures: MeasureValue[] = []
  const faults: string[] = []
  for (const { name, unit, reading } of workload.measures) {
    if ('typed' in reading) continue
    if ('file' in reading) {
      const mark = await fileMark(reading.file, folder)
      if (mark !== null && mark === before.get(reading.file)) {
        faults.push(`${name}: ${reading.file} was not written by this run`)
        continue
      }
    }
    const result = await readNumber(reading, { folder, end, patterns })
    const fault = result.kind === 'missing' ? result.message : senseFault(result.value, unit)
    if (fault !== null) faults.push(`${name}: ${fault}`)
    else if (result.kind === 'value') measures.push({ name, value: result.value })
  }
  if (faults.length > 0) return { outcome: 'wrong result', measures, message: faults.join('; ') }
  return { outcome: workload.measures.length === 0 ? 'passed' : 'scored', measures, message: null }
}

/** What keeps a number from being a measure in that unit; null where nothing does. */
export function senseFault(value: number, unit: string): string | null {
  return value > 0 || comparisonOf(unit) !== 'ratio' ? null : `${unit === '1' ? 'this value' : `a value in ${unitText(unit)}`} must be above zero; got ${value}`
}

function withLastWords(text: string, end: CommandEnd): string {
  const words = end.errorOutput.text.trim().split('\n').at(-1) ?? ''
  return words === '' ? text : `${text}: ${words}`
}
