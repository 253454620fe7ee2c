// Takes in a CSV of runs: all of it in one change, or nothing and a list of what to mend.
import type { IntakeReply } from '@guardband/model'
import { sha256Hex } from '@guardband/model'
import { momentNow, type LabCore } from '../../lab-core.ts'
import { describeRecord } from '../../store/describe.ts'
import { createDraft, type Draft } from '../draft.ts'
import { buildRecords } from './build-records.ts'
import { decodeText, requireText } from './decode-text.ts'
import { createKnownStarts } from './known-starts.ts'
import { nearNames } from './near-names.ts'
import { createProblems } from './problems.ts'
import { readRows } from './read-rows.ts'
import { readTable } from './read-table.ts'

export interface RunsIntake {
  readonly text: string | Uint8Array
  readonly file: string
  readonly who: string
  readonly only: 'preview' | 'take'
}

export function intakeRuns(core: LabCore, input: RunsIntake): IntakeReply {
  const text = typeof input.text === 'string' ? requireText(input.text, input.file) : decodeText(input.text, input.file)
  const digest = sha256Hex(text)
  if (input.only === 'preview') return draw(core, text, digest, input).reply
  return core.transact(() => {
    const { reply, draft } = draw(core, text, digest, input)
    if (reply.seenBefore || reply.problemCount > 0) return reply
    const change = core.log.write({ who: input.who, what: whatText(reply, input.file), items: draft.items() })
    core.db.prepare('INSERT OR REPLACE INTO intake_seen (digest, file, at, change) VALUES (?, ?, ?, ?)').run(digest, input.file, momentNow(core), change)
    return { ...reply, taken: true, change }
  })
}

function draw(core: LabCore, text: string, digest: string, { file }: RunsIntake): { readonly reply: IntakeReply; readonly draft: Draft } {
  const problems = createProblems(file)
  const draft = createDraft(core)
  const table = readTable(text, problems)
  const rows = table === null ? [] : readRows(table, problems)
  const { startsHere, remarks, ...counts } = buildRecords(rows, draft, { file, now: momentNow(core), problems, known: createKnownStarts(core) })
  const names = (kind: 'part' | 'sample' | 'tune' | 'workload'): string[] =>
    draft.made(kind).map((record) => ('name' in record ? record.name : record.kind === 'sample' ? record.label : describeRecord(record, core.store.get)))
  const found = problems.all()
  const nothingNew = found.length === 0 && startsHere > 0 && draft.items().length === 0
  return {
    draft,
    reply: {
      taken: false,
      change: null,
      seenBefore: nothingNew || seenBefore(core, digest),
      startsHere,
      remarks: found.length === 0 ? [...remarks, ...nearNames(core, draft), ...(table?.end === 'open' ? [OPEN_END] : [])] : [],
      lines: table?.lines.length ?? 0,
      summary: { ...counts, newParts: names('part'), newSamples: names('sample'), newTunes: names('tune'), newWorkloads: names('workload') },
      problems: found.toSorted((a, b) => (a.line ?? 0) - (b.line ?? 0)).slice(0, PROBLEMS_SHOWN),
      problemCount: found.length,
      questions: [], leftOut: [], reading: null, booked: [],
      lineCount: { all: 0, head: 0, blank: 0, taken: 0, leftOut: 0, rejected: 0 },
    },
  }
}

/** A file whose change was taken back may come again. */
function seenBefore(core: LabCore, digest: string): boolean {
  const seen = core.db.prepare<[string], { change: number }>('SELECT change FROM intake_seen WHERE digest = ?').get(digest)
  return seen !== undefined && core.log.stands(seen.change)
}

/** What was cut off within a figure looks like a smaller figure. */
const OPEN_END = 'The last line has no end: is the file whole?'

/** As the reply's schema says. */
const PROBLEMS_SHOWN = 50
const LONGEST_WHAT = 500

/** A file may also say more of what is here than was known, and bring no run. */
function whatText({ summary: { runs, starts } }: IntakeReply, file: string): string {
  const what = starts === 0 ? `Filled in what ${file} says of starts that are here` : `Took in ${count(runs, 'run')} of ${count(starts, 'start')} from ${file}`
  return what.slice(0, LONGEST_WHAT)
}

function count(number: number, what: string): string {
  return `${number} ${what}${number === 1 ? '' : 's'}`
}
