// Routes over records of any kind: read one, list a kind, and the one door through which a page changes them.
import { z } from 'zod'
import { LONGEST_WHAT, LONGEST_WHY, MOST_ITEMS } from '../change-limits.ts'
import { changeItemSchema } from '../change.ts'
import { idSchema } from '../ids.ts'
import { recordSchema, type RecordKind } from '../records/index.ts'
import { route } from './route.ts'

/** Kinds that a page can't write: a report is made by publishing. */
export const UNWRITTEN_KINDS: ReadonlySet<RecordKind> = new Set<RecordKind>(['report'])

/** Kinds few enough to be listed whole. Starts and runs are not. */
export const LISTED_KINDS = [
  'part', 'sample', 'rig', 'assembly', 'mount', 'tune', 'workload', 'suite', 'grade', 'campaign', 'cost', 'bin', 'ceiling', 'dose', 'layout', 'setting kind', 'sheet',
] as const satisfies readonly RecordKind[]

/** A change as a page sends it. Sent again under the same `request`, it is made once. */
export const sentChangeSchema = z.strictObject({
  request: idSchema,
  what: z.string().trim().min(1).max(LONGEST_WHAT),
  why: z.string().max(LONGEST_WHY).optional(),
  items: z.array(changeItemSchema).min(1).max(MOST_ITEMS),
})
export type SentChange = z.infer<typeof sentChangeSchema>

export const RECORD_ROUTES = {
  /** On disk when it replies. */
  apply: route('POST', '/api/changes', sentChangeSchema, z.strictObject({ change: z.int() })),
  records: route('GET', '/api/records', z.strictObject({ kind: z.enum(LISTED_KINDS) }), z.strictObject({ records: z.array(recordSchema) })),
  record: route('GET', '/api/records/:id', z.strictObject({}), z.strictObject({ record: recordSchema, name: z.string() })),
} as const
