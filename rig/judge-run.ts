// What a run's end amounts to: its outcome and its measures.
import { comparisonOf, fixed, unitText, type JournalBodyOf, type PlanWorkload } from '@guardband/model'
import { fileMark, readNumber } from './reading.ts'
import type { CommandEnd } from './command-driver.ts'
import type { PatternFinder } from './pattern-finder.ts'

export type Judgement = Pick<JournalBodyOf<'end'>, 'outcome' | 'measures'> & { readonly message: string | null }

/** Marks of the result files before a run, by file: one left over from an earlier run is no result of this one. */
export type FileMarks = ReadonlyMap<string, string | null>

export async function markResultFiles(workload: PlanWorkload, folder: string): Promise<FileMarks> {
  const files = workload.measures.flatMap(({ reading }) => ('file' in reading ? [reading.file] : []))
  return new Map(await Promise.all(files.map(async (file): Promise<[string, string | null]> => [file, await fileMark(file, folder)])))
}

export interface JudgeOrder {
  readonly workload: PlanWorkload
  readonly end: CommandEnd
  readonly folder: string
  readonly before: FileMarks
  readonly patterns: PatternFinder
}

/**
 * Stopped by a person; hung past its time limit; died by a signal; errors by its exit status; and where a measure is missing, old, no finite
 * number, or not above zero in a unit that compares as a ratio, a wrong result. Only what passes all of it is scored.
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

async function readMeasures({ workload, end, folder, before, patterns }: JudgeOrder): Promise<Judgement> {
  const measures: { name: string; value: number }[] = []
  const faults: string[] = []
  for (const { name, unit, reading } of workload.measures) {
    if ('file' in reading) {
      const mark = await fileMark(reading.file, folder)
      if (mark !== null && mark === before.get(reading.file)) {
        faults.push(`${name}: ${reading.file} was not written by this run`)
        continue
      }
    }
    const result = await readNumber(reading, { folder, end, patterns })
    if (result.kind === 'missing') faults.push(`${name}: ${result.message}`)
    else if (result.value <= 0 && comparisonOf(unit) === 'ratio') faults.push(`${name}: ${unit === '1' ? 'this value' : `a value in ${unitText(unit)}`} must be above zero; got ${result.value}`)
    else measures.push({ name, value: result.value })
  }
  return faults.length === 0 ? { outcome: 'scored', measures, message: null } : { outcome: 'wrong result', measures, message: faults.join('; ') }
}

function withLastWords(text: string, end: CommandEnd): string {
  const words = end.errorOutput.text.trim().split('\n').at(-1) ?? ''
  return words === '' ? text : `${text}: ${words}`
}
