// Routes over tunes: listed with what each changes, one whole, the difference between any two (or from what was in force), and what the lab knows of settings.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { knownSchema, momentSchema, nameSchema } from '../records/base.ts'
import { settingSchema, tuneSchema } from '../records/tune.ts'
import { knownSettingSchema } from '../settings/setting-book.ts'
import { route } from './route.ts'

export const tuneListRowSchema = z.strictObject({
  id: idSchema,
  name: nameSchema,
  baseId: idSchema.nullable(),
  baseName: z.string().nullable(),
  /** Settings that it names itself, and with its bases. */
  own: z.int(),
  all: z.int(),
  /** What it changes on its base, in words. */
  words: z.string(),
  starts: z.int(),
  runs: z.int(),
  /** A person let it pass a ceiling. */
  override: z.boolean(),
})
export type TuneListRow = z.infer<typeof tuneListRowSchema>

const differencePointSchema = z.strictObject({ at: z.string(), a: z.string().nullable(), b: z.string().nullable(), change: z.string(), percent: z.string() })

export const differenceRowSchema = z.strictObject({
  key: z.string(),
  place: z.string(),
  group: z.string(),
  what: z.enum(['changed', 'only in A', 'only in B']),
  a: z.string().nullable(),
  b: z.string().nullable(),
  change: z.string(),
  percent: z.string(),
  points: z.array(differencePointSchema),
  known: knownSchema.nullable(),
})

const appliedSchema = z.strictObject({
  sentence: z.string(),
  otherwise: z.array(differenceRowSchema),
  autos: z.array(z.strictObject({ key: z.string(), place: z.string(), value: z.string(), known: knownSchema })),
  unseen: z.array(z.strictObject({ key: z.string(), place: z.string(), asked: z.string() })),
  besides: z.int(),
  asAsked: z.int(),
})

export const resolvedSettingSchema = z.strictObject({
  setting: settingSchema,
  /** What it is grouped under. */
  group: z.string(),
  /** "core 3"; empty for the whole machine. */
  place: z.string(),
  from: z.strictObject({ id: idSchema, name: z.string() }),
  /** "0.15 V below the ceiling for core voltage, 1.4 V"; null where none holds for it. */
  ceiling: z.string().nullable(),
  past: z.boolean(),
  /** Values that it came to, the most frequent first, over the starts asked for this tune. */
  came: z.array(z.strictObject({ value: z.string(), as: z.enum(['asked', 'otherwise', 'chosen by the board']), starts: z.int(), known: knownSchema })),
})
export type ResolvedSetting = z.infer<typeof resolvedSettingSchema>

export const tuneStartSchema = z.strictObject({
  startId: idSchema,
  inForceId: idSchema.nullable(),
  name: z.string(),
  at: momentSchema.nullable(),
  /** "fallback start", "no start": what came instead of the tune. */
  instead: z.string().nullable(),
  known: knownSchema.nullable(),
  /** What is known against what was asked. */
  sentence: z.string(),
  otherwise: z.int(),
})
export type TuneStart = z.infer<typeof tuneStartSchema>

const namedSchema = z.strictObject({ id: idSchema, name: z.string() })

export const tuneWholeSchema = z.strictObject({
  tune: tuneSchema,
  base: namedSchema.nullable(),
  settings: z.array(resolvedSettingSchema),
  /** What it changes on its base, in words. */
  words: z.string(),
  starts: z.int(),
  runs: z.int(),
  /** Tunes that stand on it: what moves when it changes. */
  above: z.array(z.strictObject({ id: idSchema, name: z.string(), starts: z.int(), runs: z.int() })),
  /** Ceilings that it passes, each as a sentence, with those that a person let it pass. */
  past: z.array(z.strictObject({ ceilingId: idSchema, sentence: z.string(), override: z.boolean() })),
  /** Starts asked for it, newest first, at most 50; `starts` of it in all. */
  asked: z.strictObject({ starts: z.int(), fallbacks: z.int(), unseen: z.int(), rows: z.array(tuneStartSchema) }),
  questions: z.array(z.strictObject({ id: idSchema, title: z.string() })),
})
export type TuneWhole = z.infer<typeof tuneWholeSchema>

export const tuneDifferenceSchema = z.strictObject({
  a: z.strictObject({ id: idSchema, name: z.string(), is: z.enum(['tune', 'in force']) }),
  b: z.strictObject({ id: idSchema, name: z.string(), is: z.enum(['tune', 'in force']) }),
  difference: z.strictObject({
    nameA: z.string(),
    nameB: z.string(),
    sentence: z.string(),
    groups: z.array(z.strictObject({ name: z.string(), rows: z.array(differenceRowSchema) })),
    same: z.int(),
    text: z.string(),
  }),
  /** Where A was asked for and B was in force. */
  applied: appliedSchema.nullable(),
  /** What a reader must know before: a fallback, another tune asked for. */
  notes: z.array(z.string()),
})
export type TuneDifference = z.infer<typeof tuneDifferenceSchema>

/** A start to which what was in force can be written. */
export const startToNameSchema = z.strictObject({
  id: idSchema,
  name: z.string(),
  tuneId: idSchema.nullable(),
  tuneName: z.string().nullable(),
  inForce: z.array(z.strictObject({ id: idSchema, settings: z.int(), tuneId: idSchema.nullable() })),
})
export type StartToName = z.infer<typeof startToNameSchema>

export const TUNE_ROUTES = {
  tuneList: route('GET', '/api/tune-list', z.strictObject({}), z.strictObject({ rows: z.array(tuneListRowSchema) })),
  tune: route('GET', '/api/tunes/:id', z.strictObject({}), tuneWholeSchema),
  /** Each side is the id of a tune, of what was in force, or of a start. */
  tuneDifference: route('GET', '/api/tune-difference', z.strictObject({ a: idSchema, b: idSchema }), tuneDifferenceSchema),
  /** Without the tune that is being written, so that it is held against the others. */
  knownSettings: route('GET', '/api/known-settings', z.strictObject({ except: idSchema.optional() }), z.strictObject({ settings: z.array(knownSettingSchema) })),
  /** The newest first, at most 200. */
  startsToName: route('GET', '/api/starts-to-name', z.strictObject({}), z.strictObject({ rows: z.array(startToNameSchema) })),
} as const
