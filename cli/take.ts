// `guardband take`: tables of runs, journals, and folders of journals enter a workspace. What a table leaves open is refused with the option that answers it.
import { readdirSync, readFileSync, statSync } from 'node:fs'
import { basename, extname, join, resolve } from 'node:path'
import type { Lab } from '@guardband/lab'
import { SpokenError, type IntakeChoices, type IntakeReply } from '@guardband/model'
import { counted } from '@guardband/model/figures'
import { questionLines } from './take-choices.ts'
import type { Terminal } from './terminal.ts'
import { withWorkspace } from './workspace.ts'

export interface TakeOptions {
  readonly files: readonly string[]
  readonly to: string | undefined
  readonly only: 'preview' | 'take'
  /** How tables are to be read. */
  readonly choices: IntakeChoices
  /** Name of the layout to be remembered. */
  readonly remember: string | undefined
}

export async function take(terminal: Terminal, options: TakeOptions): Promise<void> {
  const given = options.files.map((file) => listFiles(resolve(terminal.folder, file)))
  if (options.only === 'preview' && given.some(({ files }) => files.some((file) => extname(file) === JOURNAL))) {
    throw new SpokenError({ code: 'preview-journal', message: 'a journal can only be taken in whole; --preview is for tables.', mend: 'Leave --preview out; "npx guardband undo" takes it back.' })
  }
  await withWorkspace(terminal, options.to, (lab) => {
    let problems = 0
    for (const { path, files, is } of given) {
      if (is === 'folder') problems += takeFolder(terminal, lab, path, files)
      else problems += extname(path) === JOURNAL ? takeJournal(terminal, lab, path) : takeRuns(terminal, lab, path, options)
    }
    if (problems > 0) terminal.setExitCode(1)
  })
}

const JOURNAL = '.journal'

/** As the intake allows; looked at before the file is read. */
const MOST_BYTES = 50 * 1024 * 1024

interface Given {
  readonly path: string
  readonly is: 'file' | 'folder'
  readonly files: readonly string[]
}

function listFiles(path: string): Given {
  const found = statSync(path, { throwIfNoEntry: false })
  if (found === undefined) throw new SpokenError({ code: 'file-missing', place: path, message: 'there is no such file.', mend: 'Check the name.' })
  if (!found.isDirectory()) return { path, is: 'file', files: [path] }
  const journals = readdirSync(path, { recursive: true, encoding: 'utf8' }).filter((name) => extname(name) === JOURNAL).toSorted()
  if (journals.length === 0) throw new SpokenError({ code: 'no-journals', place: path, message: 'there is no journal in this folder.', mend: 'Give the folder that the rig wrote into, or a table of runs.' })
  return { path, is: 'folder', files: journals.map((name) => join(path, name)) }
}

function takeJournal(terminal: Terminal, lab: Lab, file: string): number {
  const reply = bookJournal(terminal, lab, file)
  terminal.out(`${file}: ${reply.seenBefore ? 'nothing new' : reply.taken ? `${counted(reply.runs, 'run')} taken in${changes([reply])}` : 'nothing taken in'}`)
  return isWell(reply) ? 0 : 1
}

/** A rig leaves a journal a start; people want to know what came of all of them. */
function takeFolder(terminal: Terminal, lab: Lab, folder: string, files: readonly string[]): number {
  const replies = files.map((file) => bookJournal(terminal, lab, file))
  const fresh = replies.filter((reply) => reply.taken && !reply.seenBefore)
  const known = replies.filter((reply) => reply.seenBefore).length
  const refused = replies.filter((reply) => !isWell(reply)).length
  const parts = [
    ...(fresh.length === 0 ? [] : [`${counted(fresh.reduce((sum, { runs }) => sum + runs, 0), 'run')} from ${counted(fresh.length, 'journal')} taken in${changes(fresh)}`]),
    ...(known === 0 ? [] : [`nothing new in ${counted(known, 'journal')}`]),
    ...(refused === 0 ? [] : [`${counted(refused, 'journal')} not taken in`]),
  ]
  terminal.out(`${folder}: ${parts.join('; ')}`)
  return refused
}

function bookJournal(terminal: Terminal, lab: Lab, file: string): JournalReply {
  const reply = lab.intakeJournal({ bytes: readFileSync(file), file: basename(file), who: terminal.who })
  const name = basename(file)
  for (const remark of reply.remarks.slice(0, MOST_REMARKS)) terminal.err(remark.startsWith(name) ? `${file}${remark.slice(name.length)}` : `${file}: ${remark}`)
  const more = reply.remarks.length - MOST_REMARKS
  if (more > 0) terminal.err(`${file}: and ${more} more like these.`)
  return reply
}

/** A file that is no journal has something wrong in each line. */
const MOST_REMARKS = 10

type JournalReply = ReturnType<Lab['intakeJournal']>

function isWell(reply: JournalReply): boolean {
  return reply.taken || reply.seenBefore
}

function changes(replies: readonly JournalReply[]): string {
  const numbers = replies.flatMap(({ change }) => (change === null ? [] : [change]))
  const [first, last] = [numbers[0], numbers.at(-1)]
  return first === undefined ? '' : first === last ? `, change ${first}` : `, changes ${first} to ${last}`
}

function takeRuns(terminal: Terminal, lab: Lab, file: string, { only, choices, remember }: TakeOptions): number {
  const { size } = statSync(file)
  if (size > MOST_BYTES) throw new SpokenError({ code: 'too-large', place: file, message: `a file of runs must be at most ${MOST_BYTES / (1024 * 1024)} MB.`, mend: 'Split it.' })
  const reply = lab.intakeRuns({ text: readFileSync(file), file: basename(file), who: terminal.who, only, choices, homeZone: terminal.zone, ...(remember === undefined ? {} : { remember }) })
  for (const problem of reply.problems) terminal.err(problemAt(file, problem))
  const more = reply.problemCount - reply.problems.length
  if (more > 0) terminal.err(`${file}: ${counted(more, 'more problem')}.`)
  for (const question of reply.questions) for (const line of questionLines(question)) terminal.err(`${file}: ${line}`)
  for (const remark of reply.remarks) terminal.err(`${file}: ${remark}`)
  for (const { line, reason } of reply.leftOut.slice(0, MOST_REMARKS)) terminal.err(`${file}, line ${line}: left out, since ${reason}.`)
  terminal.out(`${file}: ${outcome(reply, only)}`)
  if (!isPlain(reply)) terminal.err(`${file}: ${lineSum(reply)}`)
  return reply.problemCount + reply.questions.length
}

/** A header and runs, nothing else: the number of runs says it all. */
function isPlain({ lineCount: { all, taken } }: IntakeReply): boolean {
  return all === 0 || all === taken + 1
}

/** Every line stands in one of the sums. */
function lineSum({ lineCount: { all, head, blank, taken, leftOut, rejected } }: IntakeReply): string {
  const parts = [[head, 'before the runs'], [blank, 'blank'], [taken, 'taken'], [leftOut, 'left out'], [rejected, 'with a problem']] as const
  return `${counted(all, 'line')} = ${parts.filter(([count]) => count > 0).map(([count, what]) => `${count} ${what}`).join(' + ')}.`
}

/** The sentence names the file as it was uploaded; here the whole path says more, and once is enough. */
function problemAt(file: string, { line, column, sentence }: IntakeReply['problems'][number]): string {
  const at = line === null ? '' : `, line ${line}`
  const said = `${basename(file)}${at}${column === null ? '' : `, column ${column}`}: `
  const place = `${file}${at}${column === null ? '' : `, column "${column}"`}`
  return `${place}: ${sentence.startsWith(said) ? sentence.slice(said.length) : sentence}`
}

function outcome(reply: IntakeReply, only: 'preview' | 'take'): string {
  if (reply.problemCount > 0) return `nothing taken in; ${counted(reply.problemCount, 'problem')}`
  if (reply.questions.length > 0) return `nothing taken in; ${counted(reply.questions.length, 'question')} to be answered`
  if (reply.seenBefore) return 'nothing new; all of it was taken in before'
  const { runs, starts, newParts, newSamples, newTunes, newWorkloads } = reply.summary
  const names = [...named('part', newParts), ...named('sample', newSamples), ...named('tune', newTunes), ...named('workload', newWorkloads)]
  const what = `${counted(runs, 'run')} in ${counted(starts, 'start')}${names.length === 0 ? '' : `; new: ${names.join(', ')}`}`
  return only === 'preview' ? `would take in ${what}` : `${what} taken in${reply.change === null ? '' : `, change ${reply.change}`}`
}

function named(what: string, names: readonly string[]): readonly string[] {
  if (names.length === 0) return []
  const shown = names.slice(0, 6).map((name) => `"${name}"`).join(', ')
  return [`${what}${names.length === 1 ? '' : 's'} ${shown}${names.length > 6 ? ` and ${names.length - 6} more` : ''}`]
}
