// Routes over runs and starts: found and listed, one whole, set aside and brought back, and what change-overs between them cost.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { finiteSchema, momentSchema } from '../records/base.ts'
import { costSchema } from '../records/lab.ts'
import { mountSchema } from '../records/parts.ts'
import { outcomeSchema, runSchema } from '../records/run.ts'
import { startSchema } from '../records/start.ts'
import { inForceSchema } from '../records/tune.ts'
import { workloadSchema } from '../records/workload.ts'
import { route } from './route.ts'

export const runRowSchema = z.strictObject({
  id: idSchema,
  at: momentSchema.nullable(),
  startId: idSchema,
  startLabel: z.string(),
  rig: z.string(),
  sample: z.string(),
  /** The tune in force, null when what was in force matches none. */
  tune: z.string().nullable(),
  asked: z.string().nullable(),
  known: z.string(),
  workload: z.string(),
  outcome: outcomeSchema,
  place: z.string().nullable(),
  measures: z.array(z.strictObject({ name: z.string(), value: finiteSchema, unit: z.string() })),
  setAside: z.string().nullable(),
})
export type RunRow = z.infer<typeof runRowSchema>

/** How a run that is looked for ended: an outcome, any failure, or set aside by a person. */
export const wantedOutcomeSchema = z.enum([...outcomeSchema.options, 'failed', 'set aside'])
export type WantedOutcome = z.infer<typeof wantedOutcomeSchema>

/** A page of runs, newest first. What is given must all be so. */
export interface RunsWanted {
  readonly from: number
  readonly count: number
  /** Only these runs; the id of a start, of what was in force, or of a sample stands for all of its runs. */
  readonly ids?: readonly string[]
  /** Every word stands somewhere in workload, sample, tune, start, rig, outcome, place or the reason it was set aside for. */
  readonly find?: string
  readonly outcome?: WantedOutcome
  readonly workloadId?: string
  /** In force while it ran. */
  readonly tuneId?: string
  /** Sat in the rig. */
  readonly sampleId?: string
  /** Days as YYYY-MM-DD, both included, in UTC: when its start was. */
  readonly since?: string
  readonly until?: string
}

const daySchema = z.iso.date()

export const runWholeSchema = z.strictObject({
  run: runSchema,
  row: runRowSchema,
  workload: workloadSchema,
  /** Its start's runs around it, in order, itself among them. */
  around: z.array(runRowSchema),
  /** Its place among the runs of its start, from 1. */
  place: z.int().positive(),
  of: z.int().positive(),
  /** Questions whose snapshot holds it. */
  questions: z.array(z.strictObject({ id: idSchema, title: z.string() })),
})
export type RunWhole = z.infer<typeof runWholeSchema>

export const startWholeSchema = z.strictObject({
  start: startSchema,
  label: z.string(),
  rig: z.string(),
  asked: z.string().nullable(),
  slots: z.array(z.strictObject({ slot: z.string(), sampleId: idSchema, name: z.string() })),
  mount: mountSchema.nullable(),
  /** In the order in which they came into force. */
  inForce: z.array(z.strictObject({ record: inForceSchema, tune: z.string().nullable(), runs: z.int() })),
  /** In the order in which they ran. */
  runs: z.array(runRowSchema),
  runCount: z.int(),
})
export type StartWhole = z.infer<typeof startWholeSchema>

export const changeOverRowSchema = z.strictObject({
  of: costSchema.shape.of,
  hand: finiteSchema.nullable(),
  machine: finiteSchema.nullable(),
  from: z.enum(['person', 'log', 'default', 'not used']),
  cost: costSchema.nullable(),
  /** Gaps between the end of one start's runs and the next start on that rig, as the log has them. */
  gaps: z.strictObject({ count: z.int(), median: finiteSchema.nullable() }),
})
export type ChangeOverRow = z.infer<typeof changeOverRowSchema>

/** What a person should look at: each with the records it is about, the first few. */
export const toDoSchema = z.strictObject({
  sheets: z.array(
    z.strictObject({
      id: idSchema,
      name: z.string(),
      rig: z.string(),
      done: z.int(),
      of: z.int(),
      /** A sheet of which nothing is left to do is not listed. */
      next: z.strictObject({
        startId: idSchema,
        place: z.int().positive(),
        tune: z.string(),
        how: z.string(),
        /** Samples that must go in before it. */
        putIn: z.array(z.string()),
        begun: z.boolean(),
        runsLeft: z.int(),
      }),
    }),
  ),
  wet: z.array(z.strictObject({ id: idSchema, name: z.string() })),
  /** Quarantined within the last day. */
  quarantined: z.array(z.strictObject({ id: idSchema, name: z.string(), reason: z.string() })),
  /** Starts that came up at something else than was asked, or of which nobody knows what was in force; the last ones first. */
  unsure: z.strictObject({ total: z.int(), starts: z.array(z.strictObject({ id: idSchema, name: z.string(), why: z.string() })) }),
  setAside: z.int(),
  /** Null: never. */
  lastBackup: momentSchema.nullable(),
  /** The last backup, or where there is none the workspace itself, is older than a week, and something has changed since. */
  backupDue: z.boolean(),
})
export type ToDo = z.infer<typeof toDoSchema>

export const RUN_ROUTES = {
  runs: route(
    'GET',
    '/api/runs',
    z.strictObject({
      from: z.coerce.number().int().min(0).default(0),
      count: z.coerce.number().int().min(1).max(500).default(100),
      /** With commas between them. */
      ids: z.string().max(20_000).optional(),
      find: z.string().max(200).optional(),
      outcome: wantedOutcomeSchema.optional(),
      workloadId: idSchema.optional(),
      tuneId: idSchema.optional(),
      sampleId: idSchema.optional(),
      since: daySchema.optional(),
      until: daySchema.optional(),
    }),
    z.strictObject({ rows: z.array(runRowSchema), total: z.int() }),
  ),
  run: route('GET', '/api/runs/:id', z.strictObject({}), runWholeSchema),
  start: route('GET', '/api/starts/:id', z.strictObject({}), startWholeSchema),
  setAside: route('POST', '/api/runs/:id/set-aside', z.strictObject({ reason: z.string().trim().min(1).max(2000) }), z.strictObject({ change: z.int() })),
  bringBack: route('POST', '/api/runs/:id/bring-back', z.strictObject({ reason: z.string().trim().min(1).max(2000) }), z.strictObject({ change: z.int() })),
  /** Several runs at once, in one change: those that are so already are left as they are. */
  keepRuns: route(
    'POST',
    '/api/keep-runs',
    z.strictObject({ act: z.enum(['set aside', 'bring back']), ids: z.array(idSchema).min(1).max(2000), reason: z.string().trim().min(1).max(2000) }),
    z.strictObject({ change: z.int(), runs: z.int() }),
  ),
  changeOvers: route('GET', '/api/change-overs', z.strictObject({}), z.strictObject({ rows: z.array(changeOverRowSchema) })),
  toDo: route('GET', '/api/to-do', z.strictObject({}), toDoSchema),
} as const
