// How files that look alike are read: mapped once by a person, remembered by the layout's fingerprint.
import { z } from 'zod'
import { nameSchema, recordBase } from './base.ts'
import { scopeSchema } from './tune.ts'

/** How one name of a settings dump is read. */
export const dumpNameSchema = z.strictObject({
  /** As it stands in the dump, the headings above it before it, without the numbers of places. */
  name: z.string().min(1).max(300),
  /** The setting that it is; absent when it is left out on purpose. */
  key: nameSchema.optional(),
  /** Where it is set, when neither name nor headings say so. */
  scope: scopeSchema.optional(),
  /** For values that stand without one. */
  unit: z.string().max(20).optional(),
})
export type DumpName = z.infer<typeof dumpNameSchema>

export const dumpLayoutSchema = z.strictObject({
  use: z.literal('settings dump'),
  /** What stands between name and value. */
  separator: z.enum(['json', 'tab', 'leaders', '=', ':', ';', ',', 'columns']),
  /** The mark before decimals, where values have any. */
  decimal: z.enum(['.', ',']).default('.'),
  names: z.array(dumpNameSchema).max(5000),
})
export type DumpLayout = z.infer<typeof dumpLayoutSchema>

/** What one column of a table of runs is. */
export const runsColumnSchema = z.strictObject({
  header: z.string().max(500),
  /** A column of the plain layout (docs/guide/csv.md), 'measure' for a column of values named by its header, 'left out'. */
  as: z.string().min(1).max(40),
  /** For `measure`: which workload and measure the values are of, where the header does not say. */
  workload: nameSchema.optional(),
  measure: nameSchema.optional(),
  unit: z.string().max(20).optional(),
})
export type RunsColumn = z.infer<typeof runsColumnSchema>

export const runsLayoutSchema = z.strictObject({
  use: z.literal('runs'),
  columns: z.array(runsColumnSchema).max(1000),
  decimal: z.enum(['.', ',']),
  thousands: z.enum(['none', ',', '.', ' ', "'"]),
  dates: z.enum(['year first', 'day first', 'month first']),
  /** Words of the file and the outcome that each stands for. */
  outcomes: z.array(z.strictObject({ word: z.string().min(1).max(200), outcome: z.string().max(40) })).max(200),
})
export type RunsLayout = z.infer<typeof runsLayoutSchema>

export const layoutSchema = z.strictObject({
  ...recordBase('layout'),
  name: nameSchema,
  /** Digest over what makes files alike: headers, or names and separator. */
  fingerprint: z.string().min(1).max(100),
  of: z.discriminatedUnion('use', [dumpLayoutSchema, runsLayoutSchema]),
})
export type Layout = z.infer<typeof layoutSchema>
