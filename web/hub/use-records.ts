// Reads a kind of record whole, for kinds few enough to be listed.
import type { UseQueryResult } from '@tanstack/react-query'
import type { LISTED_KINDS } from '@guardband/model/api/records'
import type { RecordOf } from '@guardband/model/records/index'
import { useHub } from './queries.ts'

export type ListedKind = (typeof LISTED_KINDS)[number]

export function useRecords<Kind extends ListedKind>(kind: Kind): { readonly query: UseQueryResult; readonly records: readonly RecordOf<Kind>[] | undefined } {
  const query = useHub('records', { input: { kind } })
  // The hub was asked for this kind alone; the filter keeps what a page shows true while another kind's reply is still held.
  const records = query.data?.records.filter((record): record is RecordOf<Kind> => record.kind === kind)
  return { query, records }
}
