// Answer: what every surface renders. Sentence, verdict, estimates with interval, scope and basis, cautions, what would settle it, method.
import { z } from 'zod'
import { finiteSchema, minutesSchema } from './records/base.ts'

export const answerScopeSchema = z.enum(['these samples', 'samples like these'])
export type AnswerScope = z.infer<typeof answerScopeSchema>

/** The tone decides shape and colour; the words decide the meaning. */
export const verdictSchema = z.strictObject({
  code: z.string(),
  words: z.string(),
  tone: z.enum(['up', 'down', 'same', 'open', 'stop']),
})
export type Verdict = z.infer<typeof verdictSchema>

export const estimateSchema = z.strictObject({
  /** Unique within the answer and scope: "workload:<id>", "group:<name>", "overall", "worth:break-even". */
  key: z.string(),
  role: z.enum(['workload', 'group', 'overall', 'worth']),
  label: z.string(),
  group: z.string().optional(),
  scope: answerScopeSchema,
  /** Null when nothing can be said; then `note` says why. */
  value: finiteSchema.nullable(),
  /** Null when there is no interval; then `note` says why. */
  low: finiteSchema.nullable(),
  high: finiteSchema.nullable(),
  confidence: finiteSchema,
  unit: z.string(),
  /** Smallest change that matters, in `unit`: the drawn band runs from `bandLow` to `bandHigh`. */
  bandLow: finiteSchema.nullable(),
  bandHigh: finiteSchema.nullable(),
  /** On the scale computed on (natural log of the ratio, or the difference): estimate, standard error, degrees of freedom (null: normal). */
  computed: z.strictObject({ estimate: finiteSchema, standardError: finiteSchema.nullable(), df: finiteSchema.nullable() }).nullable(),
  verdict: verdictSchema.nullable(),
  /** Evidence per side: [A, B]. */
  samples: z.tuple([z.int(), z.int()]),
  starts: z.tuple([z.int(), z.int()]),
  runs: z.tuple([z.int(), z.int()]),
  failed: z.tuple([z.int(), z.int()]),
  note: z.string().optional(),
})
export type Estimate = z.infer<typeof estimateSchema>

export const cautionSchema = z.strictObject({
  code: z.string(),
  /** stops: comes before the number; warns: in the margin, marked; notes: in the margin. */
  severity: z.enum(['stops', 'warns', 'notes']),
  title: z.string(),
  text: z.string(),
  /** Ids of the runs or starts that it rests on, at most 200. */
  records: z.array(z.string()).max(200),
})
export type Caution = z.infer<typeof cautionSchema>

/** A headline in pieces, so that the verdict can stand out on every surface. */
export const headlineSchema = z.array(z.strictObject({ text: z.string(), verdict: z.boolean().optional() }))
export type Headline = z.infer<typeof headlineSchema>

export const viewSchema = z.strictObject({
  scope: answerScopeSchema,
  headline: headlineSchema,
  verdict: verdictSchema,
  /** Why this scope has no answer, when it has none. */
  unavailable: z.string().optional(),
})
export type View = z.infer<typeof viewSchema>

export const settleSchema = z.strictObject({
  sentence: z.string(),
  /** More starts, a side (or samples, a side). */
  items: z.array(z.strictObject({ what: z.string(), count: z.int(), hand: minutesSchema, machine: minutesSchema })),
  hand: minutesSchema,
  machine: minutesSchema,
  runs: z.int(),
})
export type Settle = z.infer<typeof settleSchema>

export const sectionSchema = z.strictObject({ code: z.string(), title: z.string(), sentences: z.array(z.string()) })

export const methodSchema = z.strictObject({ text: z.string(), source: z.string().optional() })

export const answerSchema = z.strictObject({
  schema: z.literal(1),
  kind: z.literal('gain'),
  /** Of the method and wording that made it; an answer kept from another revision is worked out anew. */
  revision: z.int().positive(),
  question: z.strictObject({ id: z.string(), title: z.string() }),
  lab: z.string(),
  simulated: z.boolean(),
  snapshotDigest: z.string(),
  /** computed: figures stand; no answer: the headline says why there are none. */
  status: z.enum(['computed', 'no answer']),
  sides: z.tuple([z.string(), z.string()]),
  /** The scope whose view is the headline. */
  scope: answerScopeSchema,
  views: z.array(viewSchema),
  estimates: z.array(estimateSchema),
  basis: z.strictObject({
    samples: z.tuple([z.int(), z.int()]),
    starts: z.tuple([z.int(), z.int()]),
    runs: z.int(),
    failed: z.int(),
    setAside: z.int(),
    sentence: z.string(),
  }),
  cautions: z.array(cautionSchema),
  settle: settleSchema.nullable(),
  /** Further sentences for the margin: what it is worth, joint verdicts. */
  sections: z.array(sectionSchema),
  methods: z.array(methodSchema),
  /** What the band means, for the caption of the picture. */
  band: z.string(),
})
export type Answer = z.infer<typeof answerSchema>

export function headlineText(headline: Headline): string {
  return headline.map((piece) => piece.text).join('')
}

export function viewOf(answer: Answer, scope: AnswerScope = answer.scope): View {
  const view = answer.views.find((candidate) => candidate.scope === scope) ?? answer.views[0]
  if (view === undefined) throw new RangeError('answer must have at least one view; got none')
  return view
}
