// The contract of the second listener for phones: what a bench view reads and writes. A rig has that of api/sync; nothing else is offered there.
import { z } from 'zod'
import { changeItemSchema } from '../change.ts'
import { idSchema } from '../ids.ts'
import { nameSchema } from '../records/base.ts'
import { assemblySchema, mountSchema, partSchema, rigSchema, sampleSchema } from '../records/parts.ts'
import { runSchema } from '../records/run.ts'
import { sheetSchema } from '../records/sheet.ts'
import { startSchema } from '../records/start.ts'
import { inForceSchema, tuneSchema } from '../records/tune.ts'
import { workloadSchema } from '../records/workload.ts'
import { EVIDENCE_ROUTES } from './evidence.ts'
import { route } from './route.ts'

/** All that the bench view needs, so that it can go on without the hub. */
export const benchStateSchema = z.strictObject({
  /** What is entered is sent to this lab and no other. */
  labId: idSchema,
  labName: z.string(),
  simulated: z.boolean(),
  device: nameSchema,
  /** Sheets with something left to do, newest first. */
  sheets: z.array(sheetSchema),
  rigs: z.array(rigSchema),
  assemblies: z.array(assemblySchema),
  mounts: z.array(mountSchema),
  parts: z.array(partSchema),
  samples: z.array(sampleSchema),
  tunes: z.array(tuneSchema),
  workloads: z.array(workloadSchema),
  /** Of the sheets' starts, those that were made, what was in force in them, and their runs. */
  starts: z.array(startSchema),
  inForce: z.array(inForceSchema),
  runs: z.array(runSchema),
})
export type BenchState = z.infer<typeof benchStateSchema>

/** What a phone may write: what a sheet leads to, and nothing that was there before it. */
export const ENTRY_KINDS = ['assembly', 'mount', 'start', 'in force', 'run'] as const

export const benchEntrySchema = z.strictObject({
  labId: idSchema,
  /** Sent again under the same id, it is made once. */
  request: idSchema,
  what: z.string().trim().min(1).max(500),
  items: z.array(changeItemSchema).min(1).max(500),
})

const made = z.strictObject({ change: z.int() })

export const PHONE_ROUTES = {
  bench: route('GET', '/bench/state', z.strictObject({}), benchStateSchema),
  /** On disk when it replies. */
  enter: route('POST', '/bench/entries', benchEntrySchema, made),
  /** The entry made under this request shall not stand. */
  takeBack: route('POST', '/bench/take-back', z.strictObject({ labId: idSchema, entry: idSchema }), made),
  /** A picture beside a start or a run of a sheet, sent and kept as the page's are. */
  picture: route('POST', '/bench/pictures', EVIDENCE_ROUTES.keepEvidence.input, EVIDENCE_ROUTES.keepEvidence.output),
} as const
