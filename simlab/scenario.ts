// A scenario: one kind of lab with known truth, as data. Every spread, gain and drift is in natural logs (0.004 is 0.4 %).
import { answerScopeSchema, directionSchema } from '@guardband/model'
import { z } from 'zod'

const spreadSchema = z.number().min(0).max(0.2)
const shareSchema = z.number().min(0).max(0.5)

export const scenarioWorkloadSchema = z.strictObject({
  label: z.string().min(1),
  group: z.string().optional(),
  measure: z.enum(['score', 'time']),
  unit: z.string().min(1),
  direction: directionSchema,
  /** A typical value; each lab draws its own within 5 % of it, so that rounding falls differently. */
  level: z.number().positive(),
  weight: z.number().positive(),
  /** Step in which the instrument prints, in the unit. */
  resolution: z.number().positive().optional(),
  /** Gain of side B over side A among samples like these: natural log, higher is better. */
  gain: z.number().min(-1).max(1),
})

export const designSchema = z.strictObject({
  /** same: every sample runs on both sides (tunes). different: each side has its own samples (parts). */
  samples: z.enum(['same', 'different']),
  /** Starts per sample on each side, one number a sample. */
  starts: z.strictObject({ a: z.array(z.int().min(1)).min(1), b: z.array(z.int().min(1)).min(1) }),
  /** Runs of each workload in a start. */
  repeats: z.int().min(1),
  /**
   * interleaved: sample by sample, the sides in turn and every second pair reversed. interleaved rounds: every sample once a round.
   * A before B: rounds of side A first, then rounds of side B. B later: sample by sample, the last start of A after the first of B, so that B ran
   * later on the whole without A being over (A A A A B A B B B B).
   */
  order: z.enum(['interleaved', 'interleaved rounds', 'A before B', 'B later']),
  workloads: z.array(scenarioWorkloadSchema).min(1),
})

export const spreadsSchema = z.strictObject({
  /** Sample to sample, alike on all workloads; and the part that differs by workload. */
  sample: spreadSchema,
  sampleWorkload: spreadSchema,
  /** A sample's own response to a side, drawn for each sample on each side; and the part that differs by workload. */
  sampleSide: spreadSchema,
  sampleSideWorkload: spreadSchema,
  /** Start to start, alike on all workloads; and the part that differs by workload. */
  start: spreadSchema,
  startWorkload: spreadSchema,
  /** Run to run within a start. */
  repeat: spreadSchema,
  /** Both start spreads of side B are this many times those of side A. */
  startFactorB: z.number().positive(),
})
export type Spreads = z.infer<typeof spreadsSchema>

export const judgeSchema = z.strictObject({
  /** Scopes whose intervals are held against the bars. */
  scopes: z.array(answerScopeSchema),
  /** Scopes that must give no interval at all. */
  noInterval: z.array(answerScopeSchema),
  /** Scopes whose coverage has no upper bar. */
  noUpperLimit: z.strictObject({ scopes: z.array(answerScopeSchema), why: z.string().min(1) }).optional(),
  /** Given when the figures per workload are printed but not barred. */
  workloadsPrintedOnly: z.string().min(1).optional(),
  /** The verdict code that must come before the number. */
  mustSay: z.literal('not-fair').optional(),
})

export const scenarioSchema = z
  .strictObject({
    name: z.string().regex(/^gain-[a-z0-9-]+$/),
    why: z.string().min(1),
    seed: z.int(),
    design: designSchema,
    spreads: spreadsSchema,
    /** Shape of the two start spreads; Student t is scaled to the spread's own standard deviation. */
    tails: z.union([z.literal('normal'), z.strictObject({ studentDf: z.int().min(3) })]),
    /** Change of the log score from the first start to the last, linear in between. */
    drift: z.number().min(-0.2).max(0.2),
    /** Share of start x workload cells that were never run. */
    missing: shareSchema,
    /** Share of runs whose program died before it gave a measure. */
    failed: shareSchema,
    judge: judgeSchema,
  })
  .refine((scenario) => scenario.design.samples === 'different' || scenario.design.starts.a.length === scenario.design.starts.b.length, {
    message: 'the same samples on both sides need equal counts',
  })
  .refine((scenario) => scenario.design.samples === 'same' || scenario.design.order !== 'B later', {
    message: 'an order within each sample needs the same samples on both sides',
  })
export type Scenario = z.infer<typeof scenarioSchema>
