// What crosses between the desk of intakes and its worker thread.
import type { IntakeChoices, IntakeReply, SpokenErrorParts } from '@guardband/model'

export interface IntakeTask {
  readonly folder: string
  /** Of the file: what the worker drew up last stays with it, in case it is taken in as it was looked at. */
  readonly id: string
  readonly bytes: Uint8Array
  readonly file: string
  readonly who: string
  readonly only: 'preview' | 'take'
  readonly choices: IntakeChoices
  readonly remember: string | undefined
  readonly homeZone: string | undefined
  /** Shared by both threads; see `SIGNALS`. */
  readonly signals: SharedArrayBuffer
}

/** Places in the shared numbers: whether to stop, what is being done, and how much of it, in thousandths. */
export const SIGNALS = { stop: 0, doing: 1, done: 2, count: 3 } as const

export const DOINGS = ['nothing', 'reading', 'booking', 'writing'] as const
export type Doing = (typeof DOINGS)[number]

export type IntakeTaskReply = { readonly kind: 'reply'; readonly reply: IntakeReply } | { readonly kind: 'refused'; readonly error: SpokenErrorParts }
