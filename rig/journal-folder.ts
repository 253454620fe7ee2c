// Reads what earlier starts of a plan left in its journal folder: finished steps, a step in flight, and what is wrong with the files.
import { SpokenError, decodeJournal, type JournalBody, type JournalBodyOf, type JournalEntry } from '@guardband/model'
import { join } from 'node:path'
import { crashesIn, tunesOfRuns, type Crash } from './crashes.ts'
import type { JournalDisk } from './journal-disk.ts'
import type { FinishedStep } from './step-source.ts'

export interface InFlight {
  readonly journal: string
  readonly begin: JournalBodyOf<'begin'>
  readonly bootId: string
  readonly heartbeat: JournalBodyOf<'heartbeat'> | null
  /** A remark of the runner about that step, such as its process. */
  readonly notes: readonly string[]
  readonly damaged: boolean
  /** Later records of the same file show that the runner went on: its end was written, and is lost. */
  readonly wentOn: boolean
}

export interface FolderReading {
  /** In the order of the chain; journals outside it by their ids. */
  readonly journals: readonly JournalFileReading[]
  readonly finished: ReadonlyMap<string, FinishedStep>
  readonly inFlight: readonly InFlight[]
  /** Starts that never came about: their journals end while the tune was being put in force. In the order of the chain. */
  readonly unfinished: readonly UnfinishedStart[]
  /** The tune in force in a run, by its record or its start's; null where neither is known. */
  readonly tuneOfRun: (runId: string) => string | null
  /** Every crash so far, in the order of the chain. */
  readonly crashes: readonly Crash[]
  /** The end of the chain, which the next journal names; null when there is none. */
  readonly last: { readonly journal: string; readonly lastHash: string; readonly bootId: string; readonly path: string } | null
  /** Forks, damage, foreign files: one sentence each. */
  readonly cautions: readonly string[]
}

export interface UnfinishedStart {
  readonly journal: string
  /** The change that it was to carry out. */
  readonly step: string
  readonly bootId: string
  /** Boot of the journal after it, null where it is the last. */
  readonly nextBootId: string | null
}

export interface JournalFileReading {
  readonly path: string
  /** From the file's name where the opening record can't be read. */
  readonly journal: string
  readonly open: JournalBodyOf<'open'> | null
  readonly entries: readonly JournalEntry[]
  readonly damaged: boolean
}

/** Throws `other-plan` when the folder belongs to another plan or another version of this one. */
export async function readJournalFolder(disk: JournalDisk, folder: string, planHash: string): Promise<FolderReading> {
  const cautions: string[] = []
  const files: JournalFileReading[] = []
  for (const name of await disk.list(folder)) {
    if (name.endsWith('.journal')) files.push(await readFileInto(cautions, disk, join(folder, name)))
  }
  for (const { open, path } of files) if (open !== null && open.planHash !== planHash) throw otherPlan(path, open)
  const journals = inChainOrderInto(cautions, files.filter(({ entries }) => entries.length > 0))
  const end = journals.findLast(({ open }) => open !== null)
  const tunes = tunesOfRuns(journals.flatMap(({ entries }) => entries.map(({ body }) => body)))
  return {
    journals,
    finished: finishedSteps(journals),
    inFlight: stepsInFlight(journals),
    unfinished: unfinishedStarts(journals),
    tuneOfRun: (runId) => tunes.get(runId) ?? null,
    crashes: crashesIn(journals.flatMap(({ entries }) => entries.map(({ body }) => body))),
    last: end === undefined || end.open === null ? null : { journal: end.journal, lastHash: lastHash(end), bootId: end.open.bootId, path: end.path },
    cautions,
  }
}

/** Said before a tune is put in force, so that a machine that goes down with it leaves a trace (rule 18). */
export function puttingNote(step: string): string {
  return `${PUTTING}${step}`
}

export function putsInForce(body: JournalBody): boolean {
  return body.type === 'note' && body.text.startsWith(PUTTING)
}

const PUTTING = 'putting the tune in force for '

/** Finished is what ended or was resolved, whichever comes first; a run that a person stopped, or whose runner alone was killed, is carried out afresh (rule 11). */
export function isFinishing(outcome: FinishedStep['outcome']): boolean {
  return outcome !== 'stopped by a person'
}

async function readFileInto(cautions: string[], disk: JournalDisk, path: string): Promise<JournalFileReading> {
  const { entries, damage } = decodeJournal(await disk.read(path))
  for (const { line, offset, length, reason } of damage) {
    cautions.push(`${path}, line ${line} (byte ${offset}, ${length} long): ${reason}. What stands around it is used; take a copy of the file before anything else.`)
  }
  const first = entries[0]?.body
  const open = first?.type === 'open' ? first : null
  if (open === null && entries.length > 0) cautions.push(`${path}: its opening record can't be read. Its steps count as this plan's, outside the chain.`)
  return { path, journal: open?.journal ?? nameOf(path), open, entries, damaged: damage.length > 0 }
}

/** Follows `previous` from the first journal; says where the chain forks or breaks. */
function inChainOrderInto(cautions: string[], files: readonly JournalFileReading[]): readonly JournalFileReading[] {
  const byId = new Map(files.map((file) => [file.journal, file]))
  const after = Map.groupBy(files, ({ open }) => open?.previous?.journal ?? null)
  for (const [before, followers] of after) {
    const opened = followers.filter(({ open }) => open !== null)
    if (opened.length < 2) continue
    const both = opened.map(({ journal }) => journal).join(' and ')
    cautions.push(`the journals ${both} both ${before === null ? 'name none before them' : `follow ${before}`}: this folder was copied or restored and then used twice.`)
  }
  for (const { open, path } of files) {
    if (open === null || open.previous === null) continue
    const before = byId.get(open.previous.journal)
    if (before === undefined) cautions.push(`${path}: the journal before it, ${open.previous.journal}, is missing.`)
    else if (lastHash(before) !== open.previous.lastHash) cautions.push(`${path}: the journal before it, ${before.journal}, no longer ends as it did when this one was opened.`)
  }
  return files.toSorted((a, b) => depth(a, byId) - depth(b, byId) || (a.journal < b.journal ? -1 : 1))
}

/** How many journals stand before this one; one whose chain can't be followed to its beginning counts by the order that it recorded. */
function depth(file: JournalFileReading, byId: ReadonlyMap<string, JournalFileReading>): number {
  let steps = 0
  for (let at = file; at.open !== null && at.open.previous !== null && steps <= byId.size; steps++) {
    const before = byId.get(at.open.previous.journal)
    if (before === undefined) return steps + at.open.startOrder
    at = before
  }
  return steps
}

function finishedSteps(journals: readonly JournalFileReading[]): ReadonlyMap<string, FinishedStep> {
  const finished = new Map<string, FinishedStep>()
  const workloads = new Map<string, string>()
  for (const { entries } of journals) {
    const noStart = entries.some(({ body }) => body.type === 'start' && body.result === 'no start')
    for (const { body } of entries) {
      if (body.type === 'begin') workloads.set(body.step, body.workload)
      if (body.type !== 'end' && body.type !== 'resolved' && body.type !== 'done') continue
      const outcome = body.type !== 'done' ? body.outcome : noStart ? 'no start' : null
      if (finished.has(body.step) || !isFinishing(outcome)) continue
      finished.set(body.step, { by: body.type, outcome, seconds: body.type === 'end' ? body.seconds : null, workload: workloads.get(body.step) ?? null })
    }
  }
  return finished
}

function stepsInFlight(journals: readonly JournalFileReading[]): readonly InFlight[] {
  const closed = new Set(journals.flatMap(({ entries }) => entries.flatMap(({ body }) => (body.type === 'end' || body.type === 'resolved' ? [body.runId] : []))))
  return journals.flatMap(({ entries, journal, open, damaged }) => {
    const bodies = entries.map(({ body }) => body)
    const begins = bodies.filter((body) => body.type === 'begin').filter(({ runId }) => !closed.has(runId))
    const untilNext = (begin: JournalBodyOf<'begin'>): readonly JournalBody[] => {
      const own = bodies.slice(bodies.indexOf(begin) + 1)
      const next = own.findIndex(({ type }) => type === 'begin')
      return next === -1 ? own : own.slice(0, next)
    }
    return begins.map((begin) => ({
      journal,
      begin,
      bootId: open?.bootId ?? '',
      heartbeat: bodies.filter((body) => body.type === 'heartbeat').findLast(({ step }) => step === begin.step) ?? null,
      notes: untilNext(begin).flatMap((body) => (body.type === 'note' ? [body.text] : [])),
      damaged,
      wentOn: damaged && bodies.slice(bodies.indexOf(begin) + 1).some((body) => body.type === 'begin' || body.type === 'close' || (body.type === 'in force' && body.inForceId !== begin.inForceId)),
    }))
  })
}

function unfinishedStarts(journals: readonly JournalFileReading[]): readonly UnfinishedStart[] {
  return journals.flatMap(({ journal, open, entries }, order) => {
    const bodies = entries.map(({ body }) => body)
    const place = bodies.findLastIndex(putsInForce)
    const note = bodies[place]
    if (open === null || note?.type !== 'note' || bodies.slice(place).some(({ type }) => type === 'start' || type === 'in force' || type === 'begin' || type === 'close')) return []
    const next = journals.slice(order + 1).find((file) => file.open !== null)?.open
    return [{ journal, step: note.text.slice(PUTTING.length), bootId: open.bootId, nextBootId: next?.bootId ?? null }]
  })
}

function lastHash(file: JournalFileReading): string {
  // Only files with at least one record reach this.
  return file.entries[file.entries.length - 1].hash
}

function nameOf(path: string): string {
  return path.replace(/^.*[/\\]/, '').replace(/\.journal$/, '')
}

function otherPlan(path: string, open: JournalBodyOf<'open'>): SpokenError {
  return new SpokenError({
    code: 'other-plan',
    place: path,
    message: `this folder holds journals of another plan, or of this plan before it was changed: "${open.plan.title}" (${open.plan.id}, ${open.planHash.slice(0, 8)}).`,
    mend: 'A plan that has begun stays as it is. Give the changed plan another id, or another folder with --folder.',
  })
}
