// Routes that take in tables of runs: the file is sent once and kept for a while, looked at under other readings, then taken in or let go.
import { z } from 'zod'
import { finiteSchema, nameSchema } from '../records/base.ts'
import { datesSchema, decimalSchema, outcomeWordSchema, runsColumnSchema, startsRuleSchema, thousandsSchema, zoneSchema } from '../records/layout.ts'
import { route } from './route.ts'

/** Bytes that a file of runs may have; a larger one is taken in piece by piece. */
export const INTAKE_LIMIT = 50 * 1024 * 1024

export const encodingSchema = z.enum(['utf-8', 'utf-16le', 'utf-16be', 'windows-1252'])
export type Encoding = z.infer<typeof encodingSchema>

export const separatorSchema = z.enum([',', ';', '\t', '|'])
export type Separator = z.infer<typeof separatorSchema>

/** What a column of a table may be: `measure` holds values named by its header, `measure name` the name of what stands in `value`. */
export const TABLE_ROLES = [
  'part', 'sample', 'picked', 'origin', 'batch', 'slot', 'tune', 'rig', 'start', 'how', 'time', 'date', 'clock', 'firmware', 'system', 'ambient', 'workload', 'group', 'measure name',
  'unit', 'direction', 'value', 'measure', 'outcome', 'phase', 'place', 'order', 'repeat', 'seconds', 'known', 'note', 'left out',
] as const
export type TableRole = (typeof TABLE_ROLES)[number]

/** What the file does not say, said once for all of its lines. */
export const GIVEN_FIELDS = ['rig', 'part', 'sample', 'tune', 'start', 'workload', 'how', 'firmware', 'system', 'known'] as const
export type GivenField = (typeof GIVEN_FIELDS)[number]
export const givenSchema = z.partialRecord(z.enum(GIVEN_FIELDS), z.string().max(200))

export const wideSchema = z.enum(['workloads', 'tunes', 'samples', 'repeats', 'measures'])

/** How a person says that the file is to be read; what is absent is guessed from the file, or asked. */
export const intakeChoicesSchema = z.strictObject({
  encoding: encodingSchema.optional(),
  separator: separatorSchema.optional(),
  /** Line of the header, counted from 1. */
  headerLine: z.int().min(1).optional(),
  columns: z.array(runsColumnSchema).max(1000).optional(),
  decimal: decimalSchema.optional(),
  thousands: thousandsSchema.optional(),
  dates: datesSchema.optional(),
  zone: zoneSchema.optional(),
  starts: startsRuleSchema.optional(),
  /** What columns of figures are of which nothing says it. */
  wide: wideSchema.optional(),
  outcomes: z.array(outcomeWordSchema).max(200).optional(),
  given: givenSchema.optional(),
})
export type IntakeChoices = z.infer<typeof intakeChoicesSchema>

export const intakeProblemSchema = z.strictObject({ line: z.int().nullable(), column: z.string().nullable(), sentence: z.string() })
export type IntakeProblem = z.infer<typeof intakeProblemSchema>

/** Something that the file leaves open and nobody may guess. Its answer goes into the choices. */
export const intakeQuestionSchema = z.strictObject({
  /** The choice that answers it; for an outcome word and a given field with the word or field. */
  about: z.discriminatedUnion('choice', [
    z.strictObject({ choice: z.enum(['dates', 'zone', 'decimal', 'thousands', 'starts']) }),
    z.strictObject({ choice: z.literal('outcome'), word: z.string() }),
    z.strictObject({ choice: z.literal('given'), field: z.enum(GIVEN_FIELDS) }),
    z.strictObject({ choice: z.literal('wide'), headers: z.array(z.string()) }),
  ]),
  sentence: z.string(),
  options: z.array(z.strictObject({ value: z.string(), text: z.string() })),
  /** Whether another answer than the options may be typed. */
  free: z.boolean(),
})
export type IntakeQuestion = z.infer<typeof intakeQuestionSchema>

/** Every line of the file stands in exactly one of these; they add up to `all`. */
export const lineCountSchema = z.strictObject({
  all: z.int().min(0),
  /** Before the runs: preamble, header, units. */
  head: z.int().min(0),
  blank: z.int().min(0),
  taken: z.int().min(0),
  leftOut: z.int().min(0),
  rejected: z.int().min(0),
})
export type LineCount = z.infer<typeof lineCountSchema>

/** A run as it will be booked. */
export const bookedRowSchema = z.strictObject({
  line: z.int(),
  rig: z.string(),
  sample: z.string(),
  tune: z.string(),
  start: z.string(),
  workload: z.string(),
  measures: z.array(z.strictObject({ name: z.string(), value: finiteSchema, unit: z.string() })),
  outcome: z.string(),
  at: z.string().nullable(),
})
export type BookedRow = z.infer<typeof bookedRowSchema>

/** How the file was read: what was said, remembered, or guessed. */
export const tableReadingSchema = z.strictObject({
  encoding: encodingSchema,
  separator: separatorSchema,
  headerLine: z.int(),
  columns: z.array(z.strictObject({ ...runsColumnSchema.shape, first: z.array(z.string()) })),
  decimal: decimalSchema,
  thousands: thousandsSchema,
  dates: datesSchema.nullable(),
  zone: zoneSchema.nullable(),
  starts: startsRuleSchema.nullable(),
  given: givenSchema,
  outcomes: z.array(z.strictObject({ ...outcomeWordSchema.shape, count: z.int() })),
  /** The remembered layout that it was read by. */
  layout: nameSchema.nullable(),
})
export type TableReading = z.infer<typeof tableReadingSchema>

export const intakeReplySchema = z.strictObject({
  /** Nothing was taken in when there are problems or open questions, when this was a preview, or when all of the file is here already. */
  taken: z.boolean(),
  /** The change that took it in, for undo. */
  change: z.int().positive().nullable(),
  seenBefore: z.boolean(),
  /** Starts of the file that are here already with all that it says of them; the summary counts the rest. */
  startsHere: z.int().min(0),
  /** What a person should know before and after taking it in, as sentences; nothing to be mended. */
  remarks: z.array(z.string()),
  /** Lines that hold runs. */
  lines: z.int(),
  summary: z.strictObject({ runs: z.int(), starts: z.int(), newParts: z.array(z.string()), newSamples: z.array(z.string()), newTunes: z.array(z.string()), newWorkloads: z.array(z.string()) }),
  problems: z.array(intakeProblemSchema),
  /** How many problems there are in all; the list holds the first 50. */
  problemCount: z.int(),
  questions: z.array(intakeQuestionSchema),
  lineCount: lineCountSchema,
  /** The first 50 lines that were left out, each with its reason. */
  leftOut: z.array(z.strictObject({ line: z.int(), reason: z.string() })),
  reading: tableReadingSchema.nullable(),
  /** The first runs, as they will be booked. */
  booked: z.array(bookedRowSchema),
})
export type IntakeReply = z.infer<typeof intakeReplySchema>

const uploadPath = '/api/intake/uploads/:id'

export const INTAKE_ROUTES = {
  /** The body is the file's bytes as text/csv, not JSON; the query says the file's name and whether only to look. Keeps nothing of it. */
  intake: route('POST', '/api/intake/runs', z.strictObject({ file: z.string().max(300), only: z.enum(['preview', 'take']) }), intakeReplySchema),
  /** The same, looked at; the hub keeps the bytes for a while under the id that the page chose. */
  intakeSend: route('POST', uploadPath, z.strictObject({ file: z.string().min(1).max(300), zone: zoneSchema.optional() }), intakeReplySchema),
  intakeLook: route('POST', `${uploadPath}/look`, z.strictObject({ choices: intakeChoicesSchema }), intakeReplySchema),
  /** `remember` names the layout under which files with the same header are read like this from now on. */
  intakeTake: route('POST', `${uploadPath}/take`, z.strictObject({ choices: intakeChoicesSchema, remember: nameSchema.optional() }), intakeReplySchema),
  intakeProgress: route('GET', `${uploadPath}/progress`, z.strictObject({}), z.strictObject({ doing: z.enum(['nothing', 'reading', 'booking', 'writing']), done: finiteSchema.min(0).max(1) })),
  /** Cancels what is under way and lets the bytes go; nothing of it stays. */
  intakeCancel: route('POST', `${uploadPath}/cancel`, z.strictObject({}), z.strictObject({ cancelled: z.boolean() })),
} as const

