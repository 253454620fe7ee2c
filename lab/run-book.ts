// One run or start whole, with what stands around it, and runs set aside or brought back together.
import { LONGEST_WHAT, SpokenError, type LabRecord, type Run, type RunRow, type RunWhole, type Start, type StartWhole } from '@guardband/model'
import { momentNow, type LabCore } from './lab-core.ts'
import type { SnapshotBook } from './snapshots/snapshot-book.ts'
import { describeRecord, sampleText } from './store/describe.ts'
import { startName } from './store/start-name.ts'

export interface RunBook {
  readonly run: (id: string) => RunWhole
  readonly start: (id: string) => StartWhole
  readonly keepRuns: (input: { readonly act: 'set aside' | 'bring back'; readonly ids: readonly string[]; readonly reason: string; readonly who: string }) => { readonly change: number; readonly runs: number }
}

export function createRunBook(core: LabCore, book: SnapshotBook, rowsOf: (runs: readonly Run[]) => readonly RunRow[]): RunBook {
  const { db, store } = core
  const runsOfStart = db.prepare<[string], string>(`SELECT body FROM record WHERE kind = 'run' AND start_id = ?`).pluck()
  const inForceOfStart = db.prepare<[string], string>(`SELECT body FROM record WHERE kind = 'in force' AND start_id = ?`).pluck()

  const nameOf = (id: string | undefined): string | null => {
    const record = id === undefined ? undefined : store.get(id)
    return record !== undefined && 'name' in record ? record.name : null
  }
  const inOrder = (startId: string): readonly Run[] => runsOfStart.all(startId).map((body) => readBody(body, 'run')).toSorted((a, b) => a.order - b.order || (a.id < b.id ? -1 : 1))

  return {
    run: (id) => {
      const run = store.get(id)
      if (run?.kind !== 'run') throw new SpokenError({ code: 'no-run', message: `there is no run ${id}.`, mend: 'Choose one from the list of runs.' })
      const workload = store.get(run.workloadId)
      if (workload?.kind !== 'workload') throw new SpokenError({ code: 'missing-reference', message: 'the run names a workload that is gone.', mend: 'Run the check on the workspace.' })
      const all = inOrder(run.startId)
      const place = all.findIndex((other) => other.id === id)
      const from = Math.max(0, Math.min(place - NEIGHBOURS, all.length - 2 * NEIGHBOURS - 1))
      const around = rowsOf(all.slice(from, from + 2 * NEIGHBOURS + 1))
      const row = around.find((other) => other.id === id) ?? rowsOf([run])[0]
      return { run, row, workload, around: [...around], place: place + 1, of: all.length, questions: questionsWith(id) }
    },
    start: (id) => {
      const start = store.get(id)
      if (start?.kind !== 'start') throw new SpokenError({ code: 'no-start', message: `there is no start ${id}.`, mend: 'Choose one from the list of runs.' })
      const runs = inOrder(id)
      const counts = Map.groupBy(runs, (run) => run.inForceId)
      const assembly = store.get(start.assemblyId)
      const mount = start.mountId === undefined ? undefined : store.get(start.mountId)
      const asked = nameOf(start.tuneId)
      return {
        start,
        label: startName(start, asked),
        rig: nameOf(start.rigId) ?? '',
        asked,
        slots: assembly?.kind === 'assembly' ? assembly.slots.map(({ slot, sampleId }) => ({ slot, sampleId, name: sampleName(store.get(sampleId), nameOf) })) : [],
        mount: mount?.kind === 'mount' ? mount : null,
        inForce: inForceOfStart
          .all(id)
          .map((body) => readBody(body, 'in force'))
          .toSorted((a, b) => momentOf(a.from) - momentOf(b.from) || (a.id < b.id ? -1 : 1))
          .map((record) => ({ record, tune: nameOf(record.tuneId), runs: counts.get(record.id)?.length ?? 0 })),
        runs: [...rowsOf(runs.slice(0, MOST_OF_START))],
        runCount: runs.length,
      }
    },
    keepRuns: ({ act, ids, reason, who }) =>
      core.transact(() => {
        const at = momentNow(core)
        const items = [...new Set(ids)].flatMap((id) => {
          const before = store.get(id)
          if (before?.kind !== 'run') throw new SpokenError({ code: 'no-run', message: `there is no run ${id}.`, mend: 'Load the list again and choose anew.' })
          if ((before.setAside !== undefined) === (act === 'set aside')) return []
          const { setAside: _gone, ...rest } = before
          return [{ before, after: act === 'set aside' ? { ...rest, setAside: { reason, by: who, at } } : rest }]
        })
        const [first] = items
        if (first === undefined) throw new SpokenError({ code: 'nothing-to-keep', message: act === 'set aside' ? 'all of these runs are set aside already.' : 'none of these runs is set aside.' })
        const what = `${act === 'set aside' ? 'Set aside' : 'Brought back'} ${items.length === 1 ? describeRecord(first.before, store.get) : `${items.length} runs`}`
        return { change: core.log.write({ who, what: what.slice(0, LONGEST_WHAT), why: reason, items }), runs: items.length }
      }),
  }

  /** A question that can't be made into a snapshot holds no run. */
  function questionsWith(runId: string): RunWhole['questions'] {
    return store.list('question').flatMap(({ id }) => {
      try {
        const { snapshot } = book.of(id)
        return snapshot.runs.id.includes(runId) ? [{ id, title: snapshot.question.title }] : []
      } catch (error) {
        if (error instanceof SpokenError) return []
        throw error
      }
    })
  }
}

/** Shown on either side of a run. */
const NEIGHBOURS = 4
/** More than a person reads; the list of runs pages through them all. */
const MOST_OF_START = 500

function readBody<Kind extends 'run' | 'in force'>(body: string, _kind: Kind): Extract<LabRecord, { kind: Kind }> {
  // The query took rows of this kind only, and each was checked when it was written.
  return JSON.parse(body) as Extract<LabRecord, { kind: Kind }>
}

function sampleName(sample: LabRecord | undefined, nameOf: (id: string) => string | null): string {
  return sample?.kind === 'sample' ? sampleText(nameOf(sample.partId) ?? '', sample.label) : 'a sample that is gone'
}

function momentOf(at: Start['at']): number {
  return at === undefined ? 0 : Date.parse(at)
}
