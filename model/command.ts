// A command that a rig may run once it is approved, and how a value is read from what it printed.
import { z } from 'zod'
import { finiteSchema, nameSchema } from './records/base.ts'

export const commandSchema = z.strictObject({
  /** Program and arguments; no shell stands between. A relative program or file argument is taken from `folder`. */
  run: z.array(z.string().max(4000)).min(1).max(200),
  /** Working folder, relative to the plan's own folder. */
  folder: z.string().max(1000).optional(),
  /** Arguments naming files that the command itself changes: an approval names them, but doesn't pin what they hold. */
  mayChange: z.array(z.string().min(1).max(4000)).max(50).optional(),
  /** Added to a small fixed environment; the rig's own environment is not passed on. */
  environment: z.record(z.string(), z.string()).optional(),
  /** The whole process group is ended after this. */
  timeLimitSeconds: finiteSchema.positive().max(7 * 24 * 3600).default(600),
})
export type Command = z.infer<typeof commandSchema>

/** Where a value stands: the first group of a pattern, or a JSON pointer (RFC 6901), in what was printed or in a file; the wall time itself, or a person's typing. */
export const readingSchema = z.union([
  z.strictObject({ in: z.enum(['output', 'error output']).default('output'), pattern: z.string().min(1).max(500) }),
  z.strictObject({ in: z.enum(['output', 'error output']).default('output'), pointer: z.string().max(500) }),
  z.strictObject({ file: z.string().min(1).max(1000), pattern: z.string().min(1).max(500) }),
  z.strictObject({ file: z.string().min(1).max(1000), pointer: z.string().max(500) }),
  z.strictObject({ elapsed: z.literal('seconds') }),
  /** A person types it, at the rig or on a phone; this is what they are asked for. */
  z.strictObject({ typed: z.string().min(1).max(500) }),
])
export type Reading = z.infer<typeof readingSchema>

/** Something whose value tells what is in force. Numbers match within `tolerance`; text matches exactly. */
export const observableSchema = z.strictObject({
  key: z.string().min(1).max(200),
  command: commandSchema.optional(),
  /** The workload that says it of itself: read from what its first run in the start printed, so known only after that run. */
  selfReported: nameSchema.optional(),
  reading: readingSchema,
  expected: z.union([finiteSchema, z.string().max(1000)]),
  tolerance: finiteSchema.min(0).optional(),
  unit: z.string().max(20).optional(),
})
export type Observable = z.infer<typeof observableSchema>
