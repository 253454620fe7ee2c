// What a workspace on disk can do, as hub and command line see it.
import type {
  Answer, AnswerReply, Change, ChangeItem, Doses, Found, FoundKind, ChangeOverRow, InForce, IntakeReply, Lab as LabOfLab, LabInfo, LabRecord, PartRow, Question, QuestionRow, RecordKind, RecordOf, Report, RigRow, Run, RunRow, RunsWanted, RunWhole, Side, SmallestGainOffer, Snapshot, StartWhole, ToDo, TuneRow, Held,
} from '@guardband/model'
import type { Told } from './store/guards.ts'
import type { HistoryBook } from './store/history.ts'
import type { DeviceBook } from './devices.ts'
import type { IntakeDesk } from './intake/intake-desk.ts'
import type { RunsIntake } from './intake/table/intake-runs.ts'
import type { EvidenceBook, KeptEvidence } from './evidence/evidence-book.ts'
import type { KeptFile } from './intake/journal/kept-files.ts'
import type { MovingBook } from './moving/moving-book.ts'
import type { SampleBook } from './sample-book.ts'

export interface LabSources {
  /** Milliseconds since 1970. */
  readonly now: () => number
  readonly newId: () => string
  /** Module that computes answers in a worker; without it, the one of this package. */
  readonly answerWorker?: URL
  /** Renders a report; without it, the one of @guardband/report. */
  readonly renderReport?: RenderReport
}

export type RenderReport = (input: {
  readonly title: string
  readonly lab: LabOfLab
  readonly at: string
  readonly number: number
  readonly answers: readonly Answer[]
}) => string

export interface NewChange {
  readonly who: string
  readonly what: string
  readonly why?: string
  readonly items: readonly ChangeItem[]
  /** An id that the sender chose: sent again after a lost reply, the change is not made twice, and its number comes back. */
  readonly request?: string
  /** Without it, by hand: what a rig or a file tells of what was is never refused by the guards (`store/guards.ts`), and what is restored gets nothing added. */
  readonly told?: Told
}

export interface JournalIntake {
  readonly journal: string | null
  readonly taken: boolean
  readonly seenBefore: boolean
  readonly change: number | null
  readonly runs: number
  /** Damage and oddities, each a sentence with its place. */
  readonly remarks: readonly string[]
}

export interface JournalPiece {
  readonly journal: string
  /** The piece goes behind so many bytes. */
  readonly offset: number
  readonly bytes: Uint8Array
  readonly who: string
  /** The device that hands it over: a journal stays with the one that began it. */
  readonly device: string
}

export interface SeenOfJournal {
  readonly at: string
  readonly what: string
  readonly text: string
}

export interface CheckFinding {
  readonly place: string
  readonly sentence: string
}

export interface AnswerProgress {
  readonly questionId: string
  readonly state: 'computing' | 'ready' | 'cancelled' | 'failed'
  /** Share done: 0 when it begins, 1 when it is there. While computing it comes at most ten times a second. */
  readonly progress?: number
  /** Since it began. */
  readonly seconds?: number
}

export interface Lab {
  readonly folder: string
  readonly devices: DeviceBook
  readonly evidence: EvidenceBook
  readonly moving: MovingBook
  /** Parts, samples and rigs whole. */
  readonly samples: SampleBook
  info(): LabInfo
  /** Sequence of the last change. Cheap: also tells whether another process changed the lab. */
  head(): number
  get(id: string): LabRecord | undefined
  /** What was in force in a start, and its runs. */
  ofStart(startId: string): readonly (InForce | Run)[]
  list<Kind extends RecordKind>(kind: Kind): readonly RecordOf<Kind>[]
  parts(): readonly PartRow[]
  tunes(): readonly TuneRow[]
  rigs(): readonly RigRow[]
  runs(wanted: RunsWanted): { readonly rows: readonly RunRow[]; readonly total: number }
  questions(): readonly QuestionRow[]

  /** One transaction, synced before it returns. Refuses when a `before` is not what the lab holds. Returns the change's sequence number. */
  apply(change: NewChange): number
  /** Takes a change back as a new change; refuses with a sentence when later changes touched the same records. */
  undo(seq: number, by: { readonly who: string; readonly why: string }): number
  /** Takes back the change that was made under this request of its sender; again does no harm. Returns the number of the change that did it. */
  takeBack(request: string, by: { readonly who: string; readonly why: string }): number
  changes(page: { readonly before?: number; readonly count: number }): readonly Change[]
  changeItems(seq: number): readonly ChangeItem[]
  /** What became of one record, and the records of one change in words. */
  readonly history: HistoryBook
  /** What a sample was given: volts over hours. */
  doses(sampleId: string): Doses
  /** Search through everything; an empty search finds nothing. */
  find(wanted: { readonly q: string; readonly kind?: FoundKind }): Found
  /** One digest over all records: workspaces with the same digest hold the same records. */
  digest(): { readonly digest: string; readonly records: number }

  /** What a question about these sides holds for the smallest gain that matters, before anybody says otherwise. */
  smallestGain(sides: { readonly a: Side; readonly b: Side }): SmallestGainOffer
  ask(question: { readonly title?: string; readonly ask: Question['ask'] }, by: { readonly who: string }): string
  setAside(runId: string, by: { readonly who: string; readonly reason: string }): number
  bringBack(runId: string, by: { readonly who: string; readonly reason: string }): number
  /** Several runs in one change; those that are so already are left as they are. */
  keepRuns(input: { readonly act: 'set aside' | 'bring back'; readonly ids: readonly string[]; readonly reason: string; readonly who: string }): { readonly change: number; readonly runs: number }
  run(id: string): RunWhole
  start(id: string): StartWhole
  changeOvers(): readonly ChangeOverRow[]
  /** What a person should look at. */
  toDo(): ToDo

  /** Reads a table of runs; `take` does it in one change, `preview` only looks. What nobody may guess comes back as questions; their answers are choices. */
  intakeRuns(input: RunsIntake): IntakeReply
  /** The same in a thread of its own, with progress and cancel, for files that are looked at more than once. */
  readonly intakes: IntakeDesk
  /** Keeps the journal as received and takes in what is new in it. Twice changes nothing. */
  intakeJournal(input: { readonly bytes: Uint8Array; readonly file: string; readonly who: string }): JournalIntake
  /** What is held of a journal that a rig hands over in pieces. */
  heldJournal(journal: string, device: string): Held
  /** Takes a further piece of it in, as far as it is new. Throws `journal-fork`, `journal-gap`, `journal-foreign`. */
  intakePiece(input: JournalPiece): JournalIntake & { readonly held: Held }
  /** What a failed run printed, or a picture of it, as its journal names it. Null where a person took the run or the file off. Throws `kept-not-yet`, `kept-not-named`. */
  keepFileOfRun(file: KeptFile): Promise<KeptEvidence | null>
  /** What companions saw of it. */
  seenOfJournal(journal: string): readonly SeenOfJournal[]

  snapshot(questionId: string): { readonly snapshot: Snapshot; readonly digest: string }
  /** The answer at once if it is cached, otherwise starts computing in a worker. What was cancelled or failed begins anew only with `again`. */
  answerNow(questionId: string, options?: { readonly begin?: 'when needed' | 'again' }): AnswerReply
  /** The answer, computed in a worker when it isn't cached. Rejects with a SpokenError. */
  answer(questionId: string, options?: { readonly signal?: AbortSignal }): Promise<Answer>
  cancel(questionId: string): boolean
  /** Gets a worker ready, so that the first answer need not wait for its code. Never rejects; may be left out. */
  warm(): Promise<void>
  onAnswer(listener: (progress: AnswerProgress) => void): () => void

  /** Freezes answers and their snapshots into a numbered one-file report under reports/. */
  publish(input: { readonly title: string; readonly questionIds: readonly string[]; readonly who: string }): Promise<Report>
  /** Holds database, hashes and journals against each other. */
  check(): readonly CheckFinding[]
  close(): Promise<void>
}
