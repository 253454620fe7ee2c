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
  z.strictObject({ shape: z.literal('table'), rows: z.array(z.tuple([finiteSchema, finiteSchema])).min(1), unit: z.string().max(20) }),
  z.strictObject({ shape: z.literal('curve'), points: z.array(z.tuple([finiteSchema, finiteSchema])).min(1), unit: z.string().max(20) }),
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

export const tuneSchema = z.strictObject({
  ...recordBase('tune'),
  name: nameSchema,
  baseId: idSchema.optional(),
  settings: z.array(settingSchema),
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

/** A setting value in a short text: "54", "1.25 V", "quiet". */
export function settingText(value: SettingValue | { readonly shape: 'auto' } | { readonly shape: 'unchanged' }): string {
  switch (value.shape) {
    case 'scalar':
      return value.unit === '' || value.unit === '1' ? String(value.value) : `${value.value} ${value.unit}`
    case 'mode':
      return value.mode
    case 'table':
      return value.rows.map(([at, setting]) => `${at}: ${setting}`).join(', ')
    case 'curve':
      return value.points.map(([at, setting]) => `${at}: ${setting}`).join(', ')
    case 'auto':
      return 'auto'
    case 'unchanged':
      return 'unchanged'
  }
}
