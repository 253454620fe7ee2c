// What became of records: the changes of one record, and the records of one change, also when they are gone.
import { SpokenError, type Became, type Change, type ChangeItemRow, type FieldDifference, type HistoryEntry, type LabRecord } from '@guardband/model'
import type { ChangeLog } from './change-log.ts'
import type { LabDatabase } from './database.ts'
import { describeRecord, type Look } from './describe.ts'
import { differencesOf } from './differences.ts'
import { parseBody, type RecordStore } from './record-store.ts'

export interface PageWanted {
  readonly from: number
  readonly count: number
}

export interface HistoryBook {
  /** Newest first. */
  readonly of: (id: string, page: PageWanted) => { readonly name: string; readonly kind: string; readonly here: boolean; readonly total: number; readonly entries: readonly HistoryEntry[] }
  readonly change: (seq: number, page: PageWanted) => { readonly change: Change; readonly total: number; readonly items: readonly ChangeItemRow[] }
}

export function createHistoryBook(db: LabDatabase, store: RecordStore, log: ChangeLog): HistoryBook {
  const ofRecord = db.prepare<[string, number, number], ItemRow & { seq: number }>('SELECT seq, id, kind, before, after FROM change_item WHERE id = ? ORDER BY seq DESC LIMIT ? OFFSET ?')
  const countOfRecord = db.prepare<[string], number>('SELECT count(*) FROM change_item WHERE id = ?').pluck()
  const ofChange = db.prepare<[number, number, number], ItemRow>('SELECT id, kind, before, after FROM change_item WHERE seq = ? AND place >= ? ORDER BY place LIMIT ?')

  /** As it stands, else as it last stood. */
  const everLook = (): Look => {
    const known = new Map<string, LabRecord | undefined>()
    return (id) => {
      if (!known.has(id)) known.set(id, store.get(id) ?? lastState(ofRecord.get(id, 1, 0)))
      return known.get(id)
    }
  }

  return {
    of: (id, { from, count }) => {
      const total = countOfRecord.get(id) ?? 0
      const look = everLook()
      const record = look(id)
      if (total === 0 || record === undefined) throw new SpokenError({ code: 'no-record', message: 'there never was such a record in this workspace.', mend: 'Look in the change log.' })
      const entries = ofRecord.all(id, count, from).flatMap((row) => {
        const change = log.one(row.seq)
        return change === undefined ? [] : [{ change, ...becameOf(row, look) }]
      })
      return { name: describeRecord(record, look), kind: record.kind, here: store.kindOf(id) !== undefined, total, entries }
    },
    change: (seq, { from, count }) => {
      const change = log.one(seq)
      if (change === undefined) throw new SpokenError({ code: 'no-change', message: `there is no change ${seq}.`, mend: `The last one is ${log.head()}.` })
      const look = everLook()
      const items = ofChange.all(seq, from, count).map((row) => {
        const state = lastState(row)
        return { id: row.id, kind: row.kind, name: state === undefined ? row.id : describeRecord(state, look), here: store.kindOf(row.id) !== undefined, ...becameOf(row, look) }
      })
      return { change, total: change.items, items }
    },
  }
}

interface ItemRow {
  readonly id: string
  readonly kind: string
  readonly before: string | null
  readonly after: string | null
}

function lastState(row: ItemRow | undefined): LabRecord | undefined {
  const body = row?.after ?? row?.before ?? null
  return body === null ? undefined : parseBody(body)
}

function becameOf({ before, after }: ItemRow, look: Look): { readonly became: Became; readonly differences: FieldDifference[]; readonly more: number } {
  if (before === null || after === null) return { became: before === null ? 'made' : 'taken out', differences: [], more: 0 }
  const all = differencesOf(parseBody(before), parseBody(after), look)
  return { became: 'changed', differences: all.slice(0, MOST_DIFFERENCES), more: Math.max(0, all.length - MOST_DIFFERENCES) }
}

/** As the reply's schema says. */
const MOST_DIFFERENCES = 100
