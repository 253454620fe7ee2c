// A measure that runs hold keeps its name and its unit: else what was recorded would say something else.
import { counted, SpokenError, unitText, type ChangeItem, type LabRecord, type Workload } from '@guardband/model'
import type { LabDatabase } from './database.ts'
import type { RecordStore } from './record-store.ts'

/** Call after the change was written. Throws a sentence when a workload no longer tells what its runs, a bin or a suite say of it. */
export function refuseUnreadable(items: readonly ChangeItem[], db: LabDatabase, store: RecordStore): void {
  for (const { before, after } of items) {
    if (!isWorkload(before) || !isWorkload(after)) continue
    for (const measure of before.measures) {
      const now = after.measures.find(({ name }) => name === measure.name)
      if (now !== undefined && now.unit === measure.unit) continue
      const runs = runsWith(after.id, measure.name, db)
      if (runs > 0) {
        throw new SpokenError({
          code: 'measure-held',
          place: `workload "${after.name}"`,
          message: `${counted(runs, 'run holds', 'runs hold')} "${measure.name}" in ${unitText(measure.unit) || 'its unit'}, so it ${now === undefined ? "can't be taken out or renamed" : `can't be turned into ${unitText(now.unit) || now.unit}`}.`,
          mend: 'Make another workload for what is measured otherwise.',
        })
      }
      const bin = store.list('bin').find(({ criteria }) => criteria.some((criterion) => criterion.what === 'measure' && criterion.workloadId === after.id && criterion.measure === measure.name))
      if (bin !== undefined) {
        throw new SpokenError({
          code: 'measure-asked', place: `workload "${after.name}"`, message: `bin "${bin.name}" asks for "${measure.name}" in ${unitText(measure.unit) || 'its unit'}, so it ${now === undefined ? "can't be taken out or renamed" : `can't be turned into ${unitText(now.unit) || now.unit}`}.`, mend: 'Change the criteria of the bin first.',
        })
      }
      const suite = now === undefined ? store.list('suite').find(({ items: weighed }) => weighed.some((item) => item.workloadId === after.id && item.measure === measure.name)) : undefined
      if (suite !== undefined) {
        throw new SpokenError({
          code: 'measure-weighed', place: `workload "${after.name}"`, message: `suite "${suite.name}" weighs "${measure.name}", so it can't be taken out.`, mend: 'Take it out of the suite first.',
        })
      }
    }
  }
}

function isWorkload(record: LabRecord | null): record is Workload {
  return record?.kind === 'workload'
}

function runsWith(workloadId: string, measure: string, db: LabDatabase): number {
  const rows = db.prepare<[string, string], number>(
    `SELECT count(*) FROM record r WHERE r.kind = 'run' AND r.workload_id = ? AND EXISTS (SELECT 1 FROM json_each(r.body, '$.measures') m WHERE json_extract(m.value, '$.name') = ?)`,
  )
  return rows.pluck().get(workloadId, measure) ?? 0
}
