// What a rig says of itself while it works, and what people answer it: the live view on page and phone. None of it is a record of the workspace.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { finiteSchema, momentSchema, nameSchema } from '../records/base.ts'
import { outcomeSchema } from '../records/run.ts'
import { route } from './route.ts'

/** One line of a tune's numbered sheet: what must differ from what is in force now. */
export const changeLineSchema = z.strictObject({
  number: z.int().positive(),
  key: nameSchema,
  /** "core 3", "channel A"; empty for the whole machine. */
  where: z.string().max(100),
  /** As text with its unit; null where nothing tells what is in force now. */
  from: z.string().max(500).nullable(),
  to: z.string().max(500),
})
export type ChangeLine = z.infer<typeof changeLineSchema>

/** A question that a rig waits with. */
export const askSchema = z.strictObject({
  id: idSchema,
  /** done: something is to be done at the machine; choice: one of `words`; value: a figure or a word that is typed. */
  kind: z.enum(['done', 'choice', 'value']),
  step: z.string().max(200),
  text: z.string().min(1).max(4000),
  words: z.array(z.string().max(100)).max(20),
  /** Of a value that must be a number. */
  unit: z.string().max(20).nullable(),
  lines: z.array(changeLineSchema).max(500),
  /** A picture may come with the answer. */
  picture: z.boolean(),
  since: momentSchema,
})
export type Ask = z.infer<typeof askSchema>

export const askAnswerSchema = z.strictObject({ ask: idSchema, answer: z.string().max(4000) })
export type AskAnswer = z.infer<typeof askAnswerSchema>

export const liveStateSchema = z.strictObject({
  rig: nameSchema,
  plan: z.strictObject({ id: nameSchema, title: nameSchema, hash: z.string().regex(/^[0-9a-f]{64}$/) }),
  /** grace: it waits before it goes on after a crash; power-on: it waits for the machine to be powered off and on. */
  state: z.enum(['at work', 'asks', 'grace', 'power-on', 'finished', 'stopped']),
  /** Why it stopped, or what it waits for. */
  message: z.string().max(4000).nullable(),
  /** What it is at: the workload, or the tune being put in force. */
  step: z.strictObject({ id: z.string().max(200), kind: z.enum(['change', 'adjust', 'run', 'prompt']), name: z.string().max(2000), tune: nameSchema.nullable(), since: momentSchema }).nullable(),
  done: z.int().min(0),
  left: z.int().min(0),
  minutesLeft: finiteSchema.min(0).nullable(),
  journal: idSchema.nullable(),
  ask: askSchema.nullable(),
  /** The newest first: how runs ended, how each crash came and how the machine came back. */
  last: z.array(z.strictObject({ at: momentSchema, text: z.string().max(2000), outcome: outcomeSchema.nullable() })).max(20),
})
export type LiveState = z.infer<typeof liveStateSchema>

/** A rig as the hub last heard of it. */
export const liveRigSchema = z.strictObject({
  device: z.strictObject({ id: idSchema, name: nameSchema }),
  state: liveStateSchema,
  /** By the hub's clock. */
  heard: momentSchema,
  /** Seconds to add to the rig's clock to get the hub's; null until it was measured. */
  clock: z.strictObject({ offset: finiteSchema, within: finiteSchema }).nullable(),
  /** An answer was given that the rig has not fetched yet. */
  answered: z.string().nullable(),
  /** Who gave it, as the device or the page names them; null while none was given. */
  answeredBy: z.strictObject({ who: z.string().max(200), via: z.enum(['phone', 'page']) }).nullable(),
  /** A person here wants it to stop. */
  stopAsked: z.boolean(),
})
export type LiveRig = z.infer<typeof liveRigSchema>

const nothing = z.strictObject({})
/** `now` is the hub's clock, in milliseconds since 1970: a phone's own may be wrong by minutes. */
const liveReply = z.strictObject({ rigs: z.array(liveRigSchema), now: z.number() })
export type LiveReply = z.infer<typeof liveReply>

export const LIVE_ROUTES = {
  liveRigs: route('GET', '/api/live/rigs', nothing, liveReply),
  answerRig: route('POST', '/api/live/rigs/:device/answer', askAnswerSchema, liveReply),
  /** The rig stops after the run in hand is ended; only a person at the rig starts it again. */
  stopRig: route('POST', '/api/live/rigs/:device/stop', nothing, liveReply),
} as const

/** The same over the second listener, for phones. */
export const PHONE_LIVE_ROUTES = {
  liveRigs: route('GET', '/bench/rigs', nothing, liveReply),
  answerRig: route('POST', '/bench/rigs/:device/answer', askAnswerSchema, liveReply),
} as const
