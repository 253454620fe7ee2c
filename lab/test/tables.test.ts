import { readdirSync, readFileSync } from 'node:fs'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { SpokenError, type BookedRow, type IntakeReply } from '@guardband/model'
import { newLab } from './support.ts'
import { TABLES, type TableExpectation } from './table-expectations.ts'

const FOLDER = path.join(import.meta.dirname, 'tables')

describe('a table of runs as people have them', () => {
  it('is there for each expectation, and an expectation for each, forty at least', () => {
    const files = readdirSync(FOLDER).toSorted()
    expect([...new Set(TABLES.map(({ file }) => file))].toSorted()).toEqual(files)
    expect(files.length).toBeGreaterThanOrEqual(40)
  })

  it.each(TABLES.map((expected) => [`${expected.file}${expected.choices === undefined ? '' : ` read with ${JSON.stringify(expected.choices)}`}`, expected] as const))('%s gives what was written down', (_, expected) => {
    const lab = newLab()
    const input = { text: readFileSync(path.join(FOLDER, expected.file)), file: expected.file, who: 'Ada Hollin', choices: expected.choices ?? {} }
    if (expected.refused !== undefined) {
      expect(sentenceOf(() => lab.intakeRuns({ ...input, only: 'preview' }))).toBe(expected.refused)
      return
    }
    const before = lab.digest()
    const seen = lab.intakeRuns({ ...input, only: 'preview' })
    expect(told(seen, expected)).toEqual(expected)
    const { all, head, blank, taken, leftOut, rejected } = seen.lineCount
    expect(head + blank + taken + leftOut + rejected).toBe(all)
    expect(lab.digest()).toEqual(before)

    const done = lab.intakeRuns({ ...input, only: 'take' })
    const clean = expected.problems === undefined && expected.questions === undefined
    expect(done.taken).toBe(clean)
    if (!clean) expect(lab.digest()).toEqual(before)
    else {
      expect(lab.info().counts.runs).toBe(seen.summary.runs)
      expect(lab.check()).toEqual([])
      lab.undo(done.change ?? 0, { who: 'Ada Hollin', why: 'tried' })
      expect(lab.digest()).toEqual(before)
    }
  })
})

/** What the reply says of the things that are expected; problems and questions are always compared. */
function told(reply: IntakeReply, expected: TableExpectation): TableExpectation {
  const { all, head, blank, taken, leftOut, rejected } = reply.lineCount
  const found: TableExpectation = {
    file: expected.file,
    ...(expected.choices === undefined ? {} : { choices: expected.choices }),
    ...(expected.lines === undefined ? {} : { lines: [all, head, blank, taken, leftOut, rejected] as const }),
    ...(expected.runs === undefined ? {} : { runs: reply.summary.runs }),
    ...(expected.booked === undefined ? {} : { booked: reply.booked.map(bookedText) }),
    ...(expected.leftOut === undefined ? {} : { leftOut: reply.leftOut }),
    ...(expected.remarks === undefined ? {} : { remarks: expected.remarks.filter((start) => reply.remarks.some((remark) => remark.startsWith(start))) }),
    ...(reply.problems.length === 0 ? {} : { problems: reply.problems.map(({ sentence }) => sentence) }),
    ...(reply.questions.length === 0 ? {} : { questions: reply.questions.map(({ sentence }) => sentence) }),
  }
  return found
}

function bookedText({ line, sample, tune, start, workload, measures, outcome, at }: BookedRow): string {
  const what = measures.length === 0 ? outcome : measures.map(({ value, unit }) => `${value} ${unit}`).join(' + ')
  return `${line} ${sample} | ${tune} | ${start} | ${workload} | ${what}${at === null ? '' : ` | ${at}`}`
}

function sentenceOf(work: () => unknown): string {
  try {
    work()
  } catch (error) {
    if (error instanceof SpokenError) return error.sentence
    throw error
  }
  return 'nothing was thrown'
}
