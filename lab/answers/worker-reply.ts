// What crosses between an answer worker and its desk. An error loses its fields on the way between threads, so its parts are sent as data.
import type { MessagePort } from 'node:worker_threads'
import { SpokenError, type Answer, type Snapshot, type SpokenErrorParts } from '@guardband/model'

export interface WorkerTask {
  readonly snapshot: Snapshot
  readonly digest: string
  /** Takes the share done, from 0 to 1. */
  readonly progress: MessagePort
}

export type WorkerReply = { readonly kind: 'answer'; readonly answer: Answer } | { readonly kind: 'refused'; readonly error: SpokenErrorParts }

/** In the worker: runs the computation and puts its answer, or the sentence it ended with, into a reply. Other errors pass. */
export async function workerReply(compute: () => Answer | Promise<Answer>): Promise<WorkerReply> {
  try {
    return { kind: 'answer', answer: await compute() }
  } catch (error) {
    if (!(error instanceof SpokenError)) throw error
    const { code, message, place, mend } = error
    return { kind: 'refused', error: { code, message, ...(place === undefined ? {} : { place }), ...(mend === undefined ? {} : { mend }) } }
  }
}

/** At the desk: the answer, or the error thrown again. */
export function openReply(reply: WorkerReply): Answer {
  if (reply.kind === 'answer') return reply.answer
  throw new SpokenError(reply.error)
}
