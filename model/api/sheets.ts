// Routes of the entry grid: a sheet with all that was entered at it, what its workloads usually read, and an entry taken back by the id it was sent under.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { finiteSchema, nameSchema } from '../records/base.ts'
import { assemblySchema, mountSchema } from '../records/parts.ts'
import { runSchema } from '../records/run.ts'
import { sheetSchema } from '../records/sheet.ts'
import { startSchema } from '../records/start.ts'
import { inForceSchema } from '../records/tune.ts'
import { route } from './route.ts'

export const sheetWholeSchema = z.strictObject({
  /** The last change that these records show. */
  head: z.int().min(0),
  sheet: sheetSchema,
  starts: z.array(startSchema),
  inForce: z.array(inForceSchema),
  runs: z.array(runSchema),
  /** Of the sheet's rig. */
  assemblies: z.array(assemblySchema),
  mounts: z.array(mountSchema),
})
export type SheetWhole = z.infer<typeof sheetWholeSchema>

export const usualValueSchema = z.strictObject({ workloadId: idSchema, measure: nameSchema, median: finiteSchema, runs: z.int().positive() })
export type UsualValue = z.infer<typeof usualValueSchema>

export const SHEET_ROUTES = {
  sheet: route('GET', '/api/sheets/:id', z.strictObject({}), sheetWholeSchema),
  /** Medians of the last scored runs of each of the sheet's workloads, whatever they ran on: what a typed figure is held against before it has neighbours of its own. */
  usualValues: route('GET', '/api/usual-values', z.strictObject({ sheetId: idSchema }), z.strictObject({ values: z.array(usualValueSchema) })),
  /** The change made under this request shall not stand; asked again, it stays so. */
  takeBack: route('POST', '/api/take-back', z.strictObject({ request: idSchema }), z.strictObject({ change: z.int() })),
} as const
