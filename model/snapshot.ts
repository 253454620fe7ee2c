// Snapshot: the frozen, self-contained input of one question. Its digest is the cache key, the test fixture and the published package.
import { z } from 'zod'
import { contentDigest } from './digest.ts'
import { conditionsSchema, startHowSchema, trainingSchema } from './records/start.ts'
import { directionSchema } from './records/workload.ts'
import { finiteSchema, knownSchema, minutesSchema, momentSchema } from './records/base.ts'
import { moneySchema, smallestGainSchema } from './records/lab.ts'
import { originSchema, pickedSchema, sampleStatusSchema } from './records/parts.ts'
import { outcomeSchema } from './records/run.ts'

/** 0 is side A (the one compared with), 1 is side B. */
const sideIndexSchema = z.union([z.literal(0), z.literal(1)])
export type SideIndex = z.infer<typeof sideIndexSchema>

export const gainSideSchema = z.strictObject({ label: z.string(), part: z.string().optional(), tune: z.string().optional() })

export const gainSampleSchema = z.strictObject({
  id: z.string(),
  label: z.string(),
  part: z.string(),
  batch: z.string().optional(),
  origin: originSchema,
  picked: pickedSchema,
  status: sampleStatusSchema,
})

/** One side of one start: a live change splits a power-on into several of these. */
export const gainStartSchema = z.strictObject({
  id: z.string(),
  side: sideIndexSchema,
  /** Index into `samples`. */
  sample: z.int().min(0),
  rig: z.string(),
  /** Labels of what else sat in the machine, by slot; the compared slot left out. */
  partners: z.record(z.string(), z.string()),
  mount: z.string().optional(),
  at: momentSchema.optional(),
  /** Place in the order of all starts of its rig; times decide where they exist. */
  order: z.int().min(0),
  how: startHowSchema,
  training: trainingSchema.optional(),
  conditions: conditionsSchema,
  known: knownSchema,
})
export type GainStart = z.infer<typeof gainStartSchema>

export const gainWorkloadSchema = z.strictObject({
  id: z.string(),
  label: z.string(),
  group: z.string().optional(),
  measure: z.string(),
  unit: z.string(),
  compares: z.enum(['ratio', 'difference']),
  direction: directionSchema,
  weight: finiteSchema.positive(),
  resolution: finiteSchema.positive().optional(),
  /** Overrides the question's smallest gain: percent for ratios, the unit for differences. */
  matters: finiteSchema.positive().optional(),
})
export type GainWorkload = z.infer<typeof gainWorkloadSchema>

/** Runs by column, all arrays of equal length; the order of rows carries no meaning. */
export const gainRunsSchema = z
  .strictObject({
    id: z.array(z.string()),
    /** Index into `starts`. */
    start: z.array(z.int().min(0)),
    /** Index into `workloads`. */
    workload: z.array(z.int().min(0)),
    /** Place within the start. */
    order: z.array(z.int().min(0)),
    outcome: z.array(outcomeSchema),
    /** The measure, null where the run has none. */
    value: z.array(finiteSchema.nullable()),
    /** Seconds the run took, null where not recorded. */
    seconds: z.array(finiteSchema.nullable()),
    /** Reason a person set it aside for, null otherwise. */
    setAside: z.array(z.string().nullable()),
  })
  .refine((runs) => Object.values(runs).every((column) => column.length === runs.id.length), 'columns must have equal lengths')

export const changeOverSchema = z.strictObject({
  hand: minutesSchema,
  machine: minutesSchema,
  /** Learned from the log, set by a person, or the tool's own default. */
  from: z.enum(['log', 'person', 'default']),
})

export const gainSnapshotSchema = z
  .strictObject({
    schema: z.literal(1),
    kind: z.literal('gain'),
    question: z.strictObject({ id: z.string(), title: z.string() }),
    lab: z.strictObject({ name: z.string(), currency: z.string(), simulated: z.boolean() }),
    /** What the compared units are called in a sentence: "processor", "memory". */
    slot: z.string(),
    sides: z.tuple([gainSideSchema, gainSideSchema]),
    samples: z.array(gainSampleSchema),
    starts: z.array(gainStartSchema),
    workloads: z.array(gainWorkloadSchema).min(1),
    runs: gainRunsSchema,
    /** Starts of either side that never ran or fell back: kept as evidence, counted in the basis. */
    failedStarts: z.array(z.strictObject({ id: z.string(), side: sideIndexSchema, result: z.string() })),
    /** Tunes of these starts that a person let pass a ceiling, with the reason. */
    pastCeilings: z.array(z.strictObject({ tune: z.string(), reason: z.string(), by: z.string() })).min(1).optional(),
    smallestGain: smallestGainSchema,
    money: moneySchema.optional(),
    costs: z.strictObject({ start: changeOverSchema, tuneChange: changeOverSchema, sampleChange: changeOverSchema }),
  })
  .refine((snapshot) => snapshot.starts.every((start) => start.sample < snapshot.samples.length), 'a start names a sample that is not there')
  .refine(
    (snapshot) =>
      snapshot.runs.start.every((index) => index < snapshot.starts.length) && snapshot.runs.workload.every((index) => index < snapshot.workloads.length),
    'a run names a start or workload that is not there',
  )
export type GainSnapshot = z.infer<typeof gainSnapshotSchema>

/** One member so far; each question kind adds its own. */
export const snapshotSchema = gainSnapshotSchema
export type Snapshot = z.infer<typeof snapshotSchema>

export function snapshotDigest(snapshot: Snapshot): string {
  return contentDigest(snapshot)
}
