// What the parts of a workspace share: its folder, database, records, change log and sources.
import type { LabSources } from './lab.ts'
import type { ChangeLog } from './store/change-log.ts'
import type { LabDatabase } from './store/database.ts'
import type { RecordStore } from './store/record-store.ts'
import { SpokenError, type Lab, type Question } from '@guardband/model'

export interface LabCore {
  readonly folder: string
  readonly db: LabDatabase
  readonly store: RecordStore
  readonly log: ChangeLog
  readonly sources: LabSources
  /** Runs in one write transaction: all or nothing, synced before it returns. Transactions inside it join it. */
  readonly transact: <Result>(work: () => Result) => Result
}

export function labRecord(core: Pick<LabCore, 'store'>): Lab {
  const lab = core.store.list('lab')[0]
  if (lab === undefined) throw new SpokenError({ code: 'no-lab-record', message: 'the workspace has no record of itself.', mend: 'Run the check on it.' })
  return lab
}

export function questionRecord(core: Pick<LabCore, 'store'>, id: string): Question {
  const question = core.store.get(id)
  if (question?.kind !== 'question') throw new SpokenError({ code: 'no-question', message: `there is no question ${id}.`, mend: 'Choose one from the list of questions.' })
  return question
}

export function momentNow(core: Pick<LabCore, 'sources'>): string {
  return new Date(core.sources.now()).toISOString()
}
