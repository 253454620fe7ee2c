// Routes over what became of records: the history of one, the items of a change, what a sample was given, search through everything, and the content digest.
import { z } from 'zod'
import { changeSchema } from '../change.ts'
import { idSchema } from '../ids.ts'
import { finiteSchema, knownSchema, momentSchema } from '../records/base.ts'
import { route } from './route.ts'

const nothing = z.strictObject({})

/** One field that differs, both sides in words. Null: nothing stood there. */
export const fieldDifferenceSchema = z.strictObject({ field: z.string(), before: z.string().nullable(), after: z.string().nullable() })
export type FieldDifference = z.infer<typeof fieldDifferenceSchema>

export const becameSchema = z.enum(['made', 'changed', 'taken out'])
export type Became = z.infer<typeof becameSchema>

const becameParts = {
  became: becameSchema,
  /** Empty for what was made or taken out. At most 100; `more` counts the rest. */
  differences: z.array(fieldDifferenceSchema),
  more: z.int().min(0),
}

export const historyEntrySchema = z.strictObject({
  change: changeSchema,
  ...becameParts,
})
export type HistoryEntry = z.infer<typeof historyEntrySchema>

export const changeItemRowSchema = z.strictObject({
  id: idSchema,
  kind: z.string(),
  name: z.string(),
  /** False when the record is not in the workspace any more. */
  here: z.boolean(),
  ...becameParts,
})
export type ChangeItemRow = z.infer<typeof changeItemRowSchema>

/** Volts over a time: entered by a person, or reckoned from what was in force while runs went on. */
export const doseRowSchema = z.strictObject({
  from: z.enum(['entered', 'runs']),
  /** The dose's record, or the start's. */
  id: idSchema,
  /** The start, or what it was given in, in words. */
  name: z.string(),
  at: momentSchema.nullable(),
  /** With its scope: "core voltage of core 3". */
  setting: z.string(),
  volts: finiteSchema,
  /** One value was asked or read; of a table or curve the highest is taken. */
  of: z.enum(['one value', 'highest of several']),
  known: z.enum([...knownSchema.options, 'asked']),
  hours: finiteSchema,
  /** degC, weighed by hours; null where not recorded. */
  temperature: finiteSchema.nullable(),
  /** Of the hours, those without a temperature. */
  hoursWithoutTemperature: finiteSchema,
  voltDegreeHours: finiteSchema.nullable(),
})
export type DoseRow = z.infer<typeof doseRowSchema>

export const doseSumSchema = z.strictObject({
  setting: z.string(),
  hours: finiteSchema,
  voltHours: finiteSchema,
  /** Over the hours whose temperature is known; null when none is. */
  voltDegreeHours: finiteSchema.nullable(),
  hoursWithoutTemperature: finiteSchema,
  highestVolts: finiteSchema,
  /** Ceilings that allow only so many hours above a voltage. */
  allowances: z.array(z.strictObject({ domain: z.string(), above: finiteSchema, hours: finiteSchema, allowed: finiteSchema })),
})
export type DoseSum = z.infer<typeof doseSumSchema>

export const dosesSchema = z.strictObject({
  sums: z.array(doseSumSchema),
  /** Newest first. */
  rows: z.array(doseRowSchema),
  /** Runs with this sample that carry no time: what they gave it is not in the sums. */
  runsWithoutTime: z.int(),
})
export type Doses = z.infer<typeof dosesSchema>

/** Kinds that a search tells apart, in the order in which it shows them. */
export const FOUND_KINDS = ['part', 'sample', 'tune', 'rig', 'workload', 'suite', 'bin', 'question', 'report', 'sheet', 'start', 'evidence', 'ceiling', 'grade', 'setting kind', 'dose', 'mount', 'campaign'] as const
export type FoundKind = (typeof FOUND_KINDS)[number]

export const foundHitSchema = z.strictObject({
  id: idSchema,
  name: z.string(),
  /** Where the words stood, when not all of them stand in the name: "serial 8841", "note: repasted". */
  where: z.string().nullable(),
  /** What it belongs to, by which a page leads there: the part of a bin, the sample of a dose, the rig of a mount, the first record that evidence is about. */
  owner: z.strictObject({ kind: z.string(), id: idSchema }).nullable(),
})
export type FoundHit = z.infer<typeof foundHitSchema>

export const foundGroupSchema = z.strictObject({ kind: z.enum(FOUND_KINDS), total: z.int(), hits: z.array(foundHitSchema) })
export type FoundGroup = z.infer<typeof foundGroupSchema>

export const foundSchema = z.strictObject({
  groups: z.array(foundGroupSchema),
  /** Runs by the search of the list of runs, which shows them under the same words. */
  runs: z.int(),
})
export type Found = z.infer<typeof foundSchema>

export const HISTORY_ROUTES = {
  /** Newest first; also of a record that is gone. */
  history: route(
    'GET',
    '/api/records/:id/history',
    z.strictObject({ from: z.coerce.number().int().min(0).default(0), count: z.coerce.number().int().min(1).max(200).default(50) }),
    z.strictObject({ name: z.string(), kind: z.string(), here: z.boolean(), total: z.int(), entries: z.array(historyEntrySchema) }),
  ),
  changeItems: route(
    'GET',
    '/api/changes/:seq',
    z.strictObject({ from: z.coerce.number().int().min(0).default(0), count: z.coerce.number().int().min(1).max(200).default(50) }),
    z.strictObject({ change: changeSchema, total: z.int(), items: z.array(changeItemRowSchema) }),
  ),
  doses: route('GET', '/api/samples/:id/doses', nothing, dosesSchema),
  /** Every word must stand somewhere in a record. With `kind`, only that one, and more of it. */
  find: route('GET', '/api/find', z.strictObject({ q: z.string().max(200), kind: z.enum(FOUND_KINDS).optional() }), foundSchema),
  /** One digest over all records: two workspaces with the same digest hold the same records. */
  digest: route('GET', '/api/digest', nothing, z.strictObject({ digest: z.string(), records: z.int() })),
} as const
