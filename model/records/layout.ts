// How files that look alike are read: mapped once by a person, remembered by the layout's fingerprint.
import { z } from 'zod'
import { nameSchema, recordBase } from './base.ts'
import { outcomeSchema } from './run.ts'
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
  /** A column of the plain layout (docs/guide/csv.md), 'date' or 'clock' for the two halves of a time, 'measure' for a column of values named by its header, 'left out'. */
  as: z.string().min(1).max(40),
  /** For `measure`: what its values are of, where the line does not say. */
  workload: nameSchema.optional(),
  measure: nameSchema.optional(),
  unit: z.string().max(20).optional(),
  part: nameSchema.optional(),
  sample: nameSchema.optional(),
  tune: nameSchema.optional(),
  /** Which repeat, counted from 1, where each repeat has a column. */
  repeat: z.int().min(1).max(10_000).optional(),
})
export type RunsColumn = z.infer<typeof runsColumnSchema>

export const decimalSchema = z.enum(['.', ','])
export const thousandsSchema = z.enum(['none', ',', '.', ' ', "'"])
export const datesSchema = z.enum(['year first', 'day first', 'month first'])
/** "Z", an offset, or a name of the time zone database. */
export const zoneSchema = z.string().regex(/^(Z|[+-]\d\d:\d\d|[A-Za-z][\w+-]*(\/[\w+-]+)*)$/, 'must be Z, an offset such as +01:00, or a name such as Europe/Berlin').max(60)
/** Which lines share a power-on where the file has no column for it. */
export const startsRuleSchema = z.enum(['each line', 'each sample and tune', 'each repeat', 'whole file'])
export type StartsRule = z.infer<typeof startsRuleSchema>

/** A word of the file and the outcome that it stands for, or 'not run'. */
export const outcomeWordSchema = z.strictObject({ word: z.string().min(1).max(200), outcome: z.union([outcomeSchema, z.literal('not run')]) })
export type OutcomeWord = z.infer<typeof outcomeWordSchema>

/** What is absent was never settled, and is guessed or asked again. */
export const runsLayoutSchema = z.strictObject({
  use: z.literal('runs'),
  columns: z.array(runsColumnSchema).max(1000),
  decimal: decimalSchema.optional(),
  thousands: thousandsSchema.optional(),
  dates: datesSchema.optional(),
  zone: zoneSchema.optional(),
  starts: startsRuleSchema.optional(),
  outcomes: z.array(outcomeWordSchema).max(200),
  /** Said for the whole file; what sample and tune it was is asked anew for each. */
  given: z.partialRecord(z.enum(['rig', 'part', 'workload', 'how', 'known']), z.string().max(200)).optional(),
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
