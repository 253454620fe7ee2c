// A tune: a named set of settings, usually changes on a base tune. What was asked is kept apart from what was in force.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { finiteSchema, knownSchema, momentSchema, nameSchema, recordBase } from './base.ts'

export const scopeSchema = z.strictObject({
  level: z.enum(['package', 'core group', 'core', 'channel', 'module', 'machine']),
  index: z.string().max(40).optional(),
})

/** A scalar with its unit, a table (ratio by active cores), a curve (points), or a mode by name. */
export const settingValueSchema = z.discriminatedUnion('shape', [
  z.strictObject({ shape: z.literal('scalar'), value: finiteSchema, unit: z.string().max(20) }),
  z.strictObject({ shape: z.literal('table'), rows: z.array(z.tuple([finiteSchema, finiteSchema])).min(1), unit: z.string().max(20), atUnit: z.string().max(20).optional() }),
  z.strictObject({ shape: z.literal('curve'), points: z.array(z.tuple([finiteSchema, finiteSchema])).min(1), unit: z.string().max(20), atUnit: z.string().max(20).optional() }),
  z.strictObject({ shape: z.literal('mode'), mode: z.string().min(1).max(200) }),
])
export type SettingValue = z.infer<typeof settingValueSchema>

/** What was asked of one setting: a value, the board's own choice, or to be left as it was. */
export const askedSchema = z.union([settingValueSchema, z.strictObject({ shape: z.literal('auto') }), z.strictObject({ shape: z.literal('unchanged') })])

export const settingSchema = z.strictObject({
  key: nameSchema,
  scope: scopeSchema.default({ level: 'machine' }),
  asked: askedSchema,
})
export type Setting = z.infer<typeof settingSchema>
export type Scope = Setting['scope']
export type Asked = Setting['asked']

export const tuneSchema = z.strictObject({
  ...recordBase('tune'),
  name: nameSchema,
  baseId: idSchema.optional(),
  settings: z.array(settingSchema),
  /** A person let it pass these ceilings, and says why; the reason stands in every report of it. */
  override: z.strictObject({ ceilingIds: z.array(idSchema).min(1), reason: z.string().trim().min(1).max(2000), by: nameSchema, at: momentSchema }).optional(),
})
export type Tune = z.infer<typeof tuneSchema>

export const settingInForceSchema = z.strictObject({
  key: nameSchema,
  scope: scopeSchema.default({ level: 'machine' }),
  value: settingValueSchema,
  known: knownSchema,
})
export type SettingInForce = z.infer<typeof settingInForceSchema>

/** Which settings held from when to when within a start. `tuneId` names the tune that they amount to; without it they match none (fallback, unknown). */
export const inForceSchema = z.strictObject({
  ...recordBase('in force'),
  startId: idSchema,
  from: momentSchema.optional(),
  to: momentSchema.optional(),
  tuneId: idSchema.optional(),
  known: knownSchema,
  settings: z.array(settingInForceSchema).default([]),
})
export type InForce = z.infer<typeof inForceSchema>

/** What the lab knows of a setting by its key: guards typing and fills in the unit. */
export const settingKindSchema = z.strictObject({
  ...recordBase('setting kind'),
  /** The key, compared without regard to case. */
  name: nameSchema,
  shape: z.enum(['scalar', 'table', 'curve', 'mode']),
  unit: z.string().max(20).default(''),
  /** What it is grouped under: "core voltage", "memory timing". */
  domain: z.string().trim().max(100).optional(),
  level: scopeSchema.shape.level.default('machine'),
  /** The step in which boards take it. */
  step: finiteSchema.positive().optional(),
  /** A value outside is questioned, not refused. */
  usualLow: finiteSchema.optional(),
  usualHigh: finiteSchema.optional(),
  modes: z.array(z.string().min(1).max(200)).max(200).optional(),
})
export type SettingKind = z.infer<typeof settingKindSchema>

export { settingText } from '../setting-text.ts'
