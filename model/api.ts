// The contract between hub and page: each route with its method, path and the schemas of what goes in and comes out.
import { z } from 'zod'
import { answerSchema, headlineSchema, verdictSchema } from './answer.ts'
import { DEVICE_ROUTES } from './api/devices.ts'
import { EVIDENCE_ROUTES } from './api/evidence.ts'
import { HISTORY_ROUTES } from './api/history.ts'
import { INTAKE_ROUTES } from './api/intake.ts'
import { PART_ROUTES } from './api/parts.ts'
import { LIVE_ROUTES } from './api/live.ts'
import { MOVING_ROUTES } from './api/moving.ts'
import { RECORD_ROUTES } from './api/records.ts'
import { RUN_ROUTES } from './api/runs.ts'
import { route, type Route } from './api/route.ts'
import { SHEET_ROUTES } from './api/sheets.ts'
import { TUNE_ROUTES } from './api/tunes.ts'
import { changeSchema } from './change.ts'
import { idSchema } from './ids.ts'
import { finiteSchema, momentSchema, nameSchema } from './records/base.ts'
import { campaignSchema, costSchema, labSchema, questionSchema, reportSchema } from './records/lab.ts'
import { assemblySchema, mountSchema, partSchema, rigSchema, sampleSchema } from './records/parts.ts'
import { tuneSchema } from './records/tune.ts'
import { suiteSchema, workloadSchema } from './records/workload.ts'

const nothing = z.strictObject({})

export const labInfoSchema = z.strictObject({
  lab: labSchema,
  folder: z.string(),
  /** Sequence number of the last change; 0 for an empty lab. */
  head: z.int().min(0),
  counts: z.strictObject({ parts: z.int(), samples: z.int(), tunes: z.int(), starts: z.int(), runs: z.int(), questions: z.int(), reports: z.int(), rigs: z.int(), failedRuns: z.int() }),
})
export type LabInfo = z.infer<typeof labInfoSchema>

export const partRowSchema = z.strictObject({ part: partSchema, samples: z.array(z.strictObject({ sample: sampleSchema, starts: z.int(), runs: z.int() })) })
export type PartRow = z.infer<typeof partRowSchema>

export const tuneRowSchema = z.strictObject({ tune: tuneSchema, baseName: z.string().nullable(), starts: z.int(), runs: z.int() })
export type TuneRow = z.infer<typeof tuneRowSchema>

export type { Route }
export * from './api/history.ts'
export * from './api/live.ts'
export * from './api/parts.ts'
export * from './api/runs.ts'
export * from './api/sync.ts'

export const questionRowSchema = z.strictObject({
  question: questionSchema,
  title: z.string(),
  /** ready: the answer shown belongs to the data as they are; stale: data have changed since; none: never computed. */
  state: z.enum(['ready', 'stale', 'none']),
  headline: headlineSchema.nullable(),
  verdict: verdictSchema.nullable(),
  settle: z.strictObject({ sentence: z.string(), hand: finiteSchema, machine: finiteSchema }).nullable(),
})
export type QuestionRow = z.infer<typeof questionRowSchema>

export const answerReplySchema = z.discriminatedUnion('state', [
  z.strictObject({ state: z.literal('ready'), answer: answerSchema }),
  z.strictObject({ state: z.literal('computing'), progress: finiteSchema.min(0).max(1), seconds: finiteSchema }),
  z.strictObject({ state: z.literal('cancelled') }),
  z.strictObject({ state: z.literal('failed'), sentence: z.string() }),
])
export type AnswerReply = z.infer<typeof answerReplySchema>

export * from './api/intake.ts'

export const rigRowSchema = z.strictObject({
  rig: rigSchema,
  assemblies: z.array(z.strictObject({ assembly: assemblySchema, slots: z.array(z.strictObject({ slot: z.string(), part: z.string(), sample: z.string() })), mounts: z.array(mountSchema) })),
  journals: z.int(),
  lastStart: momentSchema.nullable(),
  starts: z.int(),
})
export type RigRow = z.infer<typeof rigRowSchema>

export const errorReplySchema = z.strictObject({ code: z.string(), sentence: z.string() })
export type ErrorReply = z.infer<typeof errorReplySchema>

/** Where the smallest gain of a comparison comes from while nobody says otherwise. */
export const smallestGainOfferSchema = z.discriminatedUnion('from', [
  /** Fixed by a plan that both tunes belong to, before its runs; a question that keeps to it keeps its time too. */
  z.strictObject({ from: z.literal('plan'), plan: z.string(), percent: finiteSchema.positive().max(100), fixedAt: momentSchema }),
  /** Of the house; fixed when the question is asked. */
  z.strictObject({ from: z.literal('house'), percent: finiteSchema.positive().max(100) }),
])
export type SmallestGainOffer = z.infer<typeof smallestGainOfferSchema>

/** One message of the event stream (`/api/events`): something changed, so reload what you show. */
export const eventSchema = z.discriminatedUnion('type', [
  z.strictObject({ type: z.literal('changed'), head: z.int() }),
  z.strictObject({ type: z.literal('answer'), questionId: idSchema, state: z.enum(['computing', 'ready', 'cancelled', 'failed']), progress: finiteSchema.optional() }),
  /** A rig at work said something new, or was answered. */
  z.strictObject({ type: z.literal('rigs') }),
  z.strictObject({ type: z.literal('lab switched') }),
])
export type HubEvent = z.infer<typeof eventSchema>

export const ROUTES = {
  ...RECORD_ROUTES,
  ...HISTORY_ROUTES,
  ...SHEET_ROUTES,
  ...PART_ROUTES,
  ...INTAKE_ROUTES,
  ...EVIDENCE_ROUTES,
  ...MOVING_ROUTES,
  ...DEVICE_ROUTES,
  ...RUN_ROUTES,
  ...LIVE_ROUTES,
  ...TUNE_ROUTES,
  lab: route('GET', '/api/lab', nothing, labInfoSchema),
  newLab: route('POST', '/api/labs', z.strictObject({ name: nameSchema, currency: z.string().max(10) }), labInfoSchema),
  parts: route('GET', '/api/parts', nothing, z.strictObject({ rows: z.array(partRowSchema) })),
  tunes: route('GET', '/api/tunes', nothing, z.strictObject({ rows: z.array(tuneRowSchema) })),
  workloads: route('GET', '/api/workloads', nothing, z.strictObject({ workloads: z.array(workloadSchema), suites: z.array(suiteSchema) })),
  questions: route('GET', '/api/questions', nothing, z.strictObject({ rows: z.array(questionRowSchema) })),
  ask: route('POST', '/api/questions', z.strictObject({ title: nameSchema.optional(), ask: questionSchema.shape.ask }), z.strictObject({ id: idSchema })),
  /** What the smallest gain of a question about these two sides is, before anybody says otherwise. */
  smallestGain: route(
    'GET',
    '/api/smallest-gain',
    z.strictObject({ aPart: idSchema.optional(), aTune: idSchema.optional(), bPart: idSchema.optional(), bTune: idSchema.optional() }),
    smallestGainOfferSchema,
  ),
  /** What was cancelled or failed begins anew only with `again`. While it is being computed, the reply may take up to `wait` milliseconds. */
  answer: route(
    'GET',
    '/api/questions/:id/answer',
    z.strictObject({ begin: z.enum(['when needed', 'again']).default('when needed'), wait: z.coerce.number().int().min(0).max(1000).default(0) }),
    answerReplySchema,
  ),
  cancel: route('POST', '/api/questions/:id/cancel', nothing, z.strictObject({ cancelled: z.boolean() })),
  rigs: route('GET', '/api/rigs', nothing, z.strictObject({ rows: z.array(rigRowSchema) })),
  campaigns: route('GET', '/api/campaigns', nothing, z.strictObject({ campaigns: z.array(campaignSchema), costs: z.array(costSchema) })),
  changes: route(
    'GET',
    '/api/changes',
    z.strictObject({ before: z.coerce.number().int().positive().optional(), count: z.coerce.number().int().min(1).max(200).default(50) }),
    z.strictObject({ changes: z.array(changeSchema) }),
  ),
  undo: route('POST', '/api/changes/:seq/undo', z.strictObject({ why: z.string().max(2000) }), z.strictObject({ change: z.int() })),
  reports: route('GET', '/api/reports', nothing, z.strictObject({ reports: z.array(reportSchema) })),
  /** Makes the one-file report and keeps it; it is then served under /reports/<file>. */
  publish: route('POST', '/api/reports', z.strictObject({ title: nameSchema, questionIds: z.array(idSchema).min(1).max(50) }), z.strictObject({ report: reportSchema })),
} as const

export type RouteName = keyof typeof ROUTES
