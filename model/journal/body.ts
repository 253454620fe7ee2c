// What a journal's records say, by type. See JOURNAL.md for the rules.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { planSchema } from '../plan.ts'
import { finiteSchema, knownSchema, momentSchema, nameSchema } from '../records/base.ts'
import { exposureSchema, measureValueSchema, outcomeSchema, phaseSchema } from '../records/run.ts'
import { conditionsSchema, startHowSchema, trainingSchema } from '../records/start.ts'

const hashSchema = z.string().regex(/^[0-9a-f]{64}$/)
const messageSchema = z.string().max(4000)

const common = { at: momentSchema }

export const openBodySchema = z.strictObject({
  type: z.literal('open'),
  ...common,
  format: z.literal(1),
  journal: idSchema,
  program: z.string().max(100),
  planHash: hashSchema,
  plan: planSchema,
  /** The change (or ladder) step that this start carries out. */
  step: z.string(),
  startId: idSchema,
  /** How many starts of this plan the rig has opened before. */
  startOrder: z.int().min(0),
  /** Last record of this rig's journal before, null for the first. */
  previous: z.strictObject({ journal: idSchema, lastHash: hashSchema }).nullable(),
  /** The operating system's id of this boot: another one after a restart of the machine. */
  bootId: z.string().max(100),
})

export const startBodySchema = z.strictObject({
  type: z.literal('start'),
  ...common,
  tune: nameSchema,
  how: startHowSchema,
  result: z.enum(['started', 'no start', 'fallback start', 'system fails to load']),
  training: trainingSchema.optional(),
  conditions: conditionsSchema,
  message: messageSchema.optional(),
})

export const inForceBodySchema = z.strictObject({
  type: z.literal('in force'),
  ...common,
  inForceId: idSchema,
  /** Null when what was read back is not the tune asked for. */
  tune: nameSchema.nullable(),
  known: knownSchema,
  observed: z.array(
    z.strictObject({
      key: z.string(),
      expected: z.union([finiteSchema, z.string()]),
      found: z.union([finiteSchema, z.string()]).nullable(),
      unit: z.string().optional(),
      matches: z.boolean(),
    }),
  ),
})

export const beginBodySchema = z.strictObject({
  type: z.literal('begin'),
  ...common,
  step: z.string(),
  runId: idSchema,
  inForceId: idSchema,
  workload: nameSchema,
  order: z.int().min(0),
})

export const heartbeatBodySchema = z.strictObject({ type: z.literal('heartbeat'), ...common, step: z.string(), elapsed: finiteSchema.min(0) })

export const endBodySchema = z.strictObject({
  type: z.literal('end'),
  ...common,
  step: z.string(),
  runId: idSchema,
  outcome: outcomeSchema,
  measures: z.array(measureValueSchema),
  seconds: finiteSchema.min(0),
  exitStatus: z.int().nullable(),
  signal: z.string().max(20).nullable(),
  message: messageSchema.optional(),
  /** Passes and bytes, where the driver counted them. */
  exposure: exposureSchema.optional(),
  phase: phaseSchema.optional(),
  place: z.string().max(500).optional(),
  /** What a failed run printed, and pictures of it: files beside the journals, named by their SHA-256. */
  kept: z
    .array(
      z.strictObject({
        what: z.enum(['output', 'error output', 'picture']),
        sha256: hashSchema,
        /** Of the file. */
        bytes: z.int().min(0),
        /** Of an output longer than its limit only the end is kept. */
        cut: z.boolean().optional(),
      }),
    )
    .max(20)
    .optional(),
})

/** Closes a step that an earlier journal left in flight. */
export const resolvedBodySchema = z.strictObject({
  type: z.literal('resolved'),
  ...common,
  journal: idSchema,
  step: z.string(),
  runId: idSchema,
  outcome: outcomeSchema,
  evidence: messageSchema,
})

/** A step that is not a run has been carried out. */
export const doneBodySchema = z.strictObject({ type: z.literal('done'), ...common, step: z.string(), message: messageSchema.optional() })

/** What a person was asked, and what they said. Synced before anything goes by it. */
export const answerBodySchema = z.strictObject({
  type: z.literal('answer'),
  ...common,
  step: z.string(),
  asked: messageSchema,
  answer: messageSchema,
  /** As the device or the terminal names them. */
  who: nameSchema,
  via: z.enum(['terminal', 'phone', 'page', 'companion']),
})

/** How this machine's clock stands to another's. Order never hangs on it (rule 10). */
export const clockBodySchema = z.strictObject({
  type: z.literal('clock'),
  ...common,
  /** Whose clock it was held against: a workspace's id, or a companion's name. */
  against: nameSchema,
  /** Seconds to add to this machine's clock to get the other's. */
  offset: finiteSchema,
  /** Half of the shortest round trip, in seconds: the offset is known no better. */
  within: finiteSchema.min(0),
})

/** First record of a companion's file: what a healthy second machine saw of a rig. */
export const watchBodySchema = z.strictObject({
  type: z.literal('watch'),
  ...common,
  format: z.literal(1),
  journal: idSchema,
  program: z.string().max(100),
  rig: nameSchema,
  /** The companion's own boot. */
  bootId: z.string().max(100),
  previous: z.strictObject({ journal: idSchema, lastHash: hashSchema }).nullable(),
})

export const sawBodySchema = z.strictObject({
  type: z.literal('saw'),
  ...common,
  what: z.enum(['silence', 'action', 'heard again', 'POST code', 'note']),
  /** The rig's journal, start and run that it concerns, as far as known. */
  journal: idSchema.nullable(),
  startId: idSchema.nullable(),
  runId: idSchema.nullable(),
  text: messageSchema,
  /** Of an action. */
  exitStatus: z.int().nullable().optional(),
})

export const noteBodySchema = z.strictObject({ type: z.literal('note'), ...common, text: messageSchema })

export const closeBodySchema = z.strictObject({ type: z.literal('close'), ...common, reason: messageSchema })

export const journalBodySchema = z.discriminatedUnion('type', [
  openBodySchema, startBodySchema, inForceBodySchema, beginBodySchema, heartbeatBodySchema, endBodySchema, resolvedBodySchema, doneBodySchema,
  answerBodySchema, clockBodySchema, watchBodySchema, sawBodySchema, noteBodySchema, closeBodySchema,
])
export type JournalBody = z.infer<typeof journalBodySchema>
export type JournalBodyOf<Type extends JournalBody['type']> = Extract<JournalBody, { type: Type }>
