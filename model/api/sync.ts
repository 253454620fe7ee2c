// How a rig hands over what it wrote, over the second listener of a hub or to a companion: idempotent, resumable, in pieces.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { LONGEST_LINE } from '../journal/codec.ts'
import { finiteSchema, momentSchema } from '../records/base.ts'
import { askAnswerSchema, liveStateSchema } from './live.ts'
import { route } from './route.ts'

/** Bytes of a piece of a journal in one request: a piece holds whole lines, and one line may be long (JOURNAL.md, rule 8). */
export const PIECE_LIMIT = LONGEST_LINE + 1024 * 1024
/** Bytes that a journal may have. */
export const JOURNAL_LIMIT = 50 * 1024 * 1024
/** Bytes of one kept file. */
export const KEPT_LIMIT = 32 * 1024 * 1024

const hashSchema = z.string().regex(/^[0-9a-f]{64}$/)
const clockSchema = z.strictObject({ offset: finiteSchema, within: finiteSchema.min(0) })

/** What the other side holds of a journal: so many bytes, with this SHA-256 over them; a rig whose own first bytes differ has been restored or copied. */
export const heldSchema = z.strictObject({ bytes: z.int().min(0), sha256: hashSchema })
export type Held = z.infer<typeof heldSchema>

export const SYNC_ROUTES = {
  /** `id` is the workspace's, or of a companion; `now` is its clock, in milliseconds since 1970. */
  hello: route('POST', '/sync/hello', z.strictObject({}), z.strictObject({ id: idSchema, name: z.string(), now: z.number() })),
  held: route('GET', '/sync/journals/:id/held', z.strictObject({}), heldSchema),
  /** The body goes behind the first `offset` bytes. What is held already must be the same bytes (409 `fork`); a gap is refused (409 `gap`). A piece ends with a line feed. On disk when it replies. */
  piece: route('POST', '/sync/journals/:id/piece', z.strictObject({ offset: z.coerce.number().pipe(z.int().min(0)) }), z.strictObject({ held: heldSchema, runs: z.int(), remarks: z.array(z.string()) })),
  /** A file that an `end` record names under `kept`; the body is the file. Twice changes nothing. */
  keep: route('POST', '/sync/kept', z.strictObject({ run: idSchema, what: z.enum(['output', 'error output', 'picture']), sha256: hashSchema }), z.strictObject({ kept: z.boolean() })),
  /** Sent with each heartbeat and whenever something changes. Replies with what people said since. */
  state: route(
    'POST',
    '/sync/state',
    z.strictObject({ state: liveStateSchema, clock: clockSchema.nullable() }),
    z.strictObject({ now: z.number(), answers: z.array(z.strictObject({ ...askAnswerSchema.shape, who: z.string().max(200), via: z.enum(['phone', 'page', 'companion']), at: momentSchema })), stop: z.boolean() }),
  ),
  /** What a companion saw of this rig since: how it came down. A hub replies with what companions handed in. */
  seen: route('GET', '/sync/journals/:id/seen', z.strictObject({}), z.strictObject({ saw: z.array(z.strictObject({ at: momentSchema, what: z.string(), text: z.string() })) })),
} as const
