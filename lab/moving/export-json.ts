// All records as one JSON file: a record a line, so that a sentence about a damaged one can name its line.
import { canonicalJson } from '@guardband/model'
import { MOVING_FORMAT } from './format.ts'
import type { LabReader } from './lab-reader.ts'

export function* jsonLines(reader: LabReader, exported: string): Generator<string> {
  const { lab, digest, count } = reader
  const head = canonicalJson({ guardband: 'records', format: MOVING_FORMAT, exported, lab: { name: lab.name, simulated: lab.simulated }, digest, count })
  yield `${head.slice(0, -1)},"records":[\n`
  let first = true
  for (const body of reader.bodies()) {
    yield first ? body : `,\n${body}`
    first = false
  }
  yield `\n],"files":[\n${reader.files().map((file) => canonicalJson(file)).join(',\n')}\n]}\n`
}

/** Lines before the first record. */
export const LINES_BEFORE_RECORDS = 1
