// Puts the parts of an open workspace together into one Lab.
import type { Question, QuestionRow, Run } from '@guardband/model'
import { LONGEST_WHAT, SpokenError } from '@guardband/model'
import { smallestGainFor } from '@guardband/questions/gain/ask'
import { createAnswerDesk } from './answers/answer-desk.ts'
import { checkLab } from './check.ts'
import { createDeviceBook } from './devices.ts'
import { createEvidenceBook } from './evidence/evidence-book.ts'
import { createIntakeDesk } from './intake/intake-desk.ts'
import { intakeRuns } from './intake/table/intake-runs.ts'
import { intakeJournal, recoverJournals } from './intake/journal/intake-journal.ts'
import { seenOfJournal } from './intake/journal/companion-notes.ts'
import { keepFileOfRun } from './intake/journal/kept-files.ts'
import { heldJournal, intakePiece } from './intake/journal/pieces.ts'
import { labRecord, momentNow, type LabCore } from './lab-core.ts'
import type { Lab, LabSources } from './lab.ts'
import { createMovingBook } from './moving/moving-book.ts'
import { publishReport } from './publish.ts'
import { createRunBook } from './run-book.ts'
import { changeOverRows } from './snapshots/costs.ts'
import { createSampleBook } from './sample-book.ts'
import { createSnapshotBook } from './snapshots/snapshot-book.ts'
import { createChangeLog } from './store/change-log.ts'
import type { LabDatabase } from './store/database.ts'
import { aboutName, describeRecord } from './store/describe.ts'
import { dosesOf } from './store/doses.ts'
import { createHistoryBook } from './store/history.ts'
import { createRecordStore } from './store/record-store.ts'
import { createRows, runRows } from './store/rows.ts'
import { speakDatabaseErrors } from './store/speak-database-errors.ts'
import { readToDo } from './to-do.ts'

export interface Workspace extends Lab {
  /** Takes in journals that were kept just before a crash and not booked. */
  readonly recover: () => void
}

export function createWorkspace(folder: string, db: LabDatabase, sources: LabSources): Workspace {
  const store = createRecordStore(db)
  const log = createChangeLog(db, store, sources.now)
  const core: LabCore = { folder, db, store, log, sources, transact: (work) => (db.inTransaction ? work() : speakDatabaseErrors(folder, () => db.transaction(work).immediate())) }
  const rows = createRows(db, store, log.head)
  const book = createSnapshotBook(core)
  const desk = createAnswerDesk(core, book)
  const evidence = createEvidenceBook(core)
  const intakes = createIntakeDesk(folder, sources.now)
  const runBook = createRunBook(core, book, (runs) => runRows(runs, store))

  const markRun = (runId: string, by: { readonly who: string; readonly reason: string }, change: (run: Run) => Run, what: string): number =>
    core.transact(() => {
      const before = store.get(runId)
      if (before?.kind !== 'run') throw new SpokenError({ code: 'no-run', message: `there is no run ${runId}.`, mend: 'Choose one from the list of runs.' })
      return log.write({ who: by.who, what: `${what} ${describeRecord(before, store.get)}`.slice(0, LONGEST_WHAT), why: by.reason, items: [{ before, after: change(before) }] })
    })

  return {
    folder,
    devices: createDeviceBook(db, sources),
    evidence,
    moving: createMovingBook(core),
    samples: createSampleBook(core),
    info: () => ({ lab: labRecord(core), folder, head: log.head(), counts: rows.counts() }),
    head: log.head,
    get: store.get,
    ofStart: store.ofStart,
    list: store.list,
    parts: rows.parts,
    tunes: rows.tunes,
    rigs: rows.rigs,
    runs: rows.runs,
    questions: () => store.list('question').map((question) => questionRow(question)),

    apply: (change) => core.transact(() => log.write(change)),
    undo: (seq, by) => core.transact(() => log.undo(seq, by)),
    takeBack: (request, by) => core.transact(() => log.takeBack(request, by)),
    changes: log.page,
    changeItems: log.items,
    history: createHistoryBook(db, store, log),
    doses: (sampleId) => dosesOf(store, rows.startsIn, sampleId),
    find: rows.find,
    digest: rows.digest,

    smallestGain: (sides) => smallestGainFor(sides, store.list('campaign')),
    ask: (question, by) => {
      const id = sources.newId()
      const after: Question = { kind: 'question', id, ask: question.ask, ...(question.title === undefined ? {} : { title: question.title }) }
      core.transact(() => log.write({ who: by.who, what: question.title === undefined ? 'Asked a question' : `Asked: ${question.title}`, items: [{ before: null, after }] }))
      return id
    },
    setAside: (runId, by) =>
      markRun(
        runId,
        by,
        (run) => {
          if (run.setAside !== undefined) throw new SpokenError({ code: 'set-aside-already', place: describeRecord(run, store.get), message: `it was set aside already: ${run.setAside.reason}` })
          return { ...run, setAside: { reason: by.reason, by: by.who, at: momentNow(core) } }
        },
        'Set aside',
      ),
    bringBack: (runId, by) =>
      markRun(
        runId,
        by,
        ({ setAside, ...run }) => {
          if (setAside === undefined) throw new SpokenError({ code: 'not-set-aside', place: describeRecord(run, store.get), message: 'it is not set aside.' })
          return run
        },
        'Brought back',
      ),
    keepRuns: runBook.keepRuns,
    run: runBook.run,
    start: runBook.start,
    changeOvers: () => changeOverRows(core),
    toDo: () => readToDo(core),

    intakeRuns: (input) => intakeRuns(core, input),
    intakes,
    intakeJournal: (input) => intakeJournal(core, input),
    heldJournal: (journal, device) => heldJournal(core, journal, device),
    intakePiece: (piece) => intakePiece(core, piece),
    keepFileOfRun: (file) => keepFileOfRun(core, evidence, file),
    seenOfJournal: (journal) => seenOfJournal(core, journal),

    snapshot: book.of,
    answerNow: (questionId, options) => desk.now(questionId, options?.begin ?? 'when needed'),
    answer: (questionId, options) => desk.answer(questionId, options?.signal),
    cancel: desk.cancel,
    warm: desk.warm,
    onAnswer: desk.onProgress,

    publish: (input) => publishReport({ core, book, desk }, input),
    check: () => checkLab(core),
    recover: () => recoverJournals(core),
    close: async () => {
      await Promise.all([desk.close(), intakes.close()])
      if (db.open) db.close()
    },
  }

  function questionRow(question: Question): QuestionRow {
    const { title, digest } = titleAndDigest(question)
    const current = digest === null ? undefined : desk.cache.get(digest)
    const answer = current ?? desk.cache.latest(question.id)
    if (answer === undefined) return { question, title, state: 'none', headline: null, verdict: null, settle: null }
    const view = answer.views.find(({ scope }) => scope === answer.scope) ?? answer.views[0]
    const { settle } = answer
    return {
      question,
      title,
      state: current === undefined ? 'stale' : 'ready',
      headline: view?.headline ?? null,
      verdict: view?.verdict ?? null,
      settle: settle === null ? null : { sentence: settle.sentence, hand: settle.hand, machine: settle.machine },
    }
  }

  /** A question that can't be made into a snapshot still has its row; its answer then says why. */
  function titleAndDigest(question: Question): { readonly title: string; readonly digest: string | null } {
    try {
      const { snapshot, digest } = book.of(question.id)
      return { title: snapshot.question.title, digest }
    } catch (error) {
      if (!(error instanceof SpokenError)) throw error
      return { title: question.title ?? aboutName(question.ask.about, store.get), digest: null }
    }
  }
}
