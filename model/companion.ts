// The watch file: which rig a companion watches over, when its silence counts, and what it may then do.
import { z } from 'zod'
import { commandSchema } from './command.ts'
import { finiteSchema, nameSchema } from './records/base.ts'

export const watchFileSchema = z.strictObject({
  schema: z.literal(1),
  /** Names this watch among the approvals of its machine. */
  id: nameSchema,
  /** As the plans on the watched machine call it. */
  rig: nameSchema,
  /**
   * So much without a heartbeat, while the rig is at work, is silence. Heartbeats come every 5 s; one that is lost costs about 15 s. A restart with memory training must be
   * shorter than this, or the switch is used in its middle.
   */
  silenceSeconds: finiteSchema.min(30).max(3600).default(180),
  /** Tried in this order until the rig is heard again. */
  actions: z.array(z.strictObject({ name: nameSchema, command: commandSchema, waitSeconds: finiteSchema.positive().max(3600).default(300) })).max(10).default([]),
  /** No more actions than this within an hour, whatever happens. */
  mostPerHour: z.int().positive().max(60).default(6),
})
export type WatchFile = z.infer<typeof watchFileSchema>
