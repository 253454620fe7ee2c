// Takes in a table of runs: all of it in one change, or nothing and what to mend or to settle.
import { createHash } from 'node:crypto'
import { canonicalJson, LONGEST_WHAT, SpokenError, type IntakeChoices, type IntakeReply, type Layout, type LineCount, type RunsLayout } from '@guardband/model'
import { momentNow, type LabCore } from '../../lab-core.ts'
import { describeRecord } from '../../store/describe.ts'
import { createDraft, type Draft } from '../draft.ts'
import { buildRecords } from './build-records.ts'
import { requireText } from './decode-text.ts'
import { decodeTable, evenLines, type DecodedTable } from './decode-table.ts'
import type { KnownNames } from './guess-columns.ts'
import { createKnownStarts } from './known-starts.ts'
import { nearNames } from './near-names.ts'
import { createProblems, type Problems } from './problems.ts'
import { readTable, type ReadTable } from './read-table.ts'

export interface RunsIntake {
  /** The file's bytes, or text that was pasted or decoded elsewhere. */
  readonly text: string | Uint8Array
  readonly file: string
  readonly who: string
  readonly only: 'preview' | 'take'
  readonly choices?: IntakeChoices
  /** Name under which tables with this header are read like this from now on. */
  readonly remember?: string
  /** The zone of the person's own clock, offered where times do not say theirs. */
  readonly homeZone?: string
  /** Called now and then with what is being done and the share of it; may throw to stop, and then nothing is written. */
  readonly onProgress?: (doing: 'reading' | 'booking' | 'writing', done: number) => void
}

/** What a look found, ready to be written while the workspace stays as it was. */
export interface DrawnIntake {
  readonly reply: IntakeReply
  readonly draft: Draft
  readonly digest: string
  /** Of the workspace when it was drawn. */
  readonly head: number
}

export function intakeRuns(core: LabCore, input: RunsIntake): IntakeReply {
  const drawn = drawIntake(core, input)
  return input.only === 'preview' ? drawn.reply : writeIntake(core, input, drawn)
}

/** Writes what was drawn; drawn anew where the workspace has changed since. */
export function writeIntake(core: LabCore, input: RunsIntake, before: DrawnIntake): IntakeReply {
  if (!isReady(before.reply)) return before.reply
  return core.transact(() => {
    const { reply, draft, digest } = core.log.head() === before.head ? before : drawIntake(core, input)
    if (!isReady(reply)) return reply
    const onProgress = input.onProgress
    const what = whatText(reply, input.file)
    const change = core.log.write({ who: input.who, what, told: 'as it happened', items: draft.items(), ...(onProgress === undefined ? {} : { onProgress: (done: number) => onProgress('writing', done) }) })
    core.db.prepare('INSERT OR REPLACE INTO intake_seen (digest, file, at, change) VALUES (?, ?, ?, ?)').run(digest, input.file, momentNow(core), change)
    return { ...reply, taken: true, change }
  })
}

function isReady({ seenBefore, problemCount, questions }: IntakeReply): boolean {
  return !seenBefore && problemCount === 0 && questions.length === 0
}

export function drawIntake(core: LabCore, input: RunsIntake): DrawnIntake {
  const { file, choices = {}, onProgress = () => undefined } = input
  const head = core.log.head()
  const decoded: DecodedTable = typeof input.text === 'string' ? { text: evenLines(requireText(input.text, file)), encoding: 'utf-8', how: 'sure' } : decodeTable(input.text, file, choices.encoding)
  // Under another reading the same text is another table.
  const digest = sha256Of(Object.keys(choices).length === 0 ? decoded.text : `${canonicalJson(choices)}\n${decoded.text}`)
  const problems = createProblems(file)
  const layouts = core.store.list('layout')
  const table = readTable(decoded, {
    choices, problems,
    known: knownNames(core),
    layoutOf: (fingerprint) => layouts.flatMap((layout) => (layout.fingerprint === fingerprint && layout.of.use === 'runs' ? [{ name: layout.name, of: layout.of }] : [])).at(-1),
    onProgress: (done) => onProgress('reading', done),
    homeZone: input.homeZone ?? 'Z',
  })
  const draft = createDraft(core)
  if (table === null) return { reply: unread(problems), draft, digest, head }
  const open = table.questions.length > 0
  const { startsHere, remarks, booked, ...counts } = buildRecords(open ? [] : table.runs, draft, {
    file, now: momentNow(core), problems, known: createKnownStarts(core), onProgress: (done) => onProgress('booking', done),
  })
  const found = problems.all()
  const nothingNew = !open && found.length === 0 && startsHere > 0 && draft.items().length === 0
  if (!open && found.length === 0 && !nothingNew && input.remember !== undefined) draft.put(layoutRecord(draft, layouts, table, choices, input.remember))
  const names = (kind: 'part' | 'sample' | 'tune' | 'workload'): string[] =>
    draft.made(kind).map((record) => ('name' in record ? record.name : record.kind === 'sample' ? record.label : describeRecord(record, core.store.get)))
  return {
    draft, digest, head,
    reply: {
      taken: false,
      change: null,
      seenBefore: nothingNew || seenBefore(core, digest),
      startsHere,
      remarks: found.length === 0 ? [...table.remarks, ...remarks, ...nearNames(core, draft), ...(table.end === 'open' ? [OPEN_END] : [])] : [],
      lines: table.dataLines,
      summary: { ...counts, newParts: names('part'), newSamples: names('sample'), newTunes: names('tune'), newWorkloads: names('workload') },
      ...problemsOf(problems),
      questions: [...table.questions],
      lineCount: table.lineCount(),
      leftOut: table.leftOut.slice(0, SHOWN),
      reading: table.reading,
      booked: found.length === 0 ? [...booked] : [],
    },
  }
}

/** As the model's digest, many times faster over a large file. */
function sha256Of(text: string): string {
  return createHash('sha256').update(text).digest('hex')
}

function unread(problems: Problems): IntakeReply {
  const lineCount: LineCount = { all: 0, head: 0, blank: 0, taken: 0, leftOut: 0, rejected: 0 }
  return {
    taken: false, change: null, seenBefore: false, startsHere: 0, remarks: [], lines: 0, summary: { runs: 0, starts: 0, newParts: [], newSamples: [], newTunes: [], newWorkloads: [] },
    ...problemsOf(problems), questions: [], lineCount, leftOut: [], reading: null, booked: [],
  }
}

function problemsOf(problems: Problems): Pick<IntakeReply, 'problems' | 'problemCount'> {
  const found = problems.all()
  return { problems: found.toSorted((a, b) => (a.line ?? 0) - (b.line ?? 0)).slice(0, SHOWN), problemCount: found.length }
}

function knownNames({ store }: LabCore): KnownNames {
  return {
    workloads: store.list('workload').map(({ name, measures }) => ({ name, measures: measures.map((measure) => measure.name) })),
    tunes: store.list('tune').map(({ name }) => name),
    samples: store.list('sample').map(({ label }) => label),
  }
}

/** What the next table with this header is read by. */
function layoutRecord(draft: Draft, layouts: readonly Layout[], { fingerprint, reading }: ReadTable, choices: IntakeChoices, name: string): Layout {
  const { sample: _sample, tune: _tune, start: _start, firmware: _firmware, system: _system, ...given } = choices.given ?? {}
  const of: RunsLayout = {
    use: 'runs',
    columns: reading.columns.map(({ first: _first, ...column }) => column),
    ...(choices.decimal === undefined ? {} : { decimal: choices.decimal }),
    ...(choices.thousands === undefined ? {} : { thousands: choices.thousands }),
    ...(choices.dates === undefined ? {} : { dates: choices.dates }),
    ...(reading.zone === null ? {} : { zone: reading.zone }),
    ...(reading.starts === null ? {} : { starts: reading.starts }),
    outcomes: [...(choices.outcomes ?? [])],
    ...(Object.keys(given).length === 0 ? {} : { given }),
  }
  const earlier = layouts.find((layout) => layout.fingerprint === fingerprint)
  return { kind: 'layout', id: earlier?.id ?? draft.newId(), name, fingerprint, of }
}

/** A file whose change was taken back may come again. */
function seenBefore(core: LabCore, digest: string): boolean {
  const seen = core.db.prepare<[string], { change: number }>('SELECT change FROM intake_seen WHERE digest = ?').get(digest)
  return seen !== undefined && core.log.stands(seen.change)
}

/** What was cut off within a figure looks like a smaller figure. */
const OPEN_END = 'The last line has no end: is the file whole?'

/** As the reply's schema says. */
const SHOWN = 50

/** A file may also say more of what is here than was known, and bring no run. */
function whatText({ summary: { runs, starts } }: IntakeReply, file: string): string {
  const what = starts === 0 ? `Filled in what ${file} says of starts that are here` : `Took in ${count(runs, 'run')} of ${count(starts, 'start')} from ${file}`
  return what.slice(0, LONGEST_WHAT)
}

function count(number: number, what: string): string {
  return `${number} ${what}${number === 1 ? '' : 's'}`
}

/** Thrown from `onProgress` to stop. */
export function intakeCancelled(): SpokenError {
  return new SpokenError({ code: 'intake-cancelled', message: 'taking in was cancelled; nothing came in.', mend: 'Send the file again to begin anew.' })
}
