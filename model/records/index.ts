// Every record kind in one union: the only door through which unknown data becomes typed records.
import { z } from 'zod'
import { evidenceSchema } from './evidence.ts'
import { campaignSchema, costSchema, labSchema, questionSchema, reportSchema } from './lab.ts'
import { layoutSchema } from './layout.ts'
import { assemblySchema, binSchema, mountSchema, partSchema, rigSchema, sampleSchema } from './parts.ts'
import { runSchema } from './run.ts'
import { ceilingSchema, doseSchema } from './safety.ts'
import { sheetSchema } from './sheet.ts'
import { startSchema } from './start.ts'
import { inForceSchema, settingKindSchema, tuneSchema } from './tune.ts'
import { gradeSchema, suiteSchema, workloadSchema } from './workload.ts'

export const recordSchema = z.discriminatedUnion('kind', [
  labSchema, partSchema, sampleSchema, rigSchema, assemblySchema, mountSchema, tuneSchema, workloadSchema, suiteSchema, gradeSchema,
  campaignSchema, costSchema, startSchema, inForceSchema, runSchema, questionSchema, reportSchema,
  binSchema, ceilingSchema, doseSchema, evidenceSchema, layoutSchema, settingKindSchema, sheetSchema,
])
export type LabRecord = z.infer<typeof recordSchema>
export type RecordKind = LabRecord['kind']
export type RecordOf<Kind extends RecordKind> = Extract<LabRecord, { kind: Kind }>

export * from './base.ts'
export * from './evidence.ts'
export * from './lab.ts'
export * from './layout.ts'
export * from './parts.ts'
export * from './run.ts'
export * from './safety.ts'
export * from './sheet.ts'
export * from './start.ts'
export * from './tune.ts'
export * from './workload.ts'
