// Runs in a worker thread: computes the answer of one snapshot. The question's code is loaded at the first job and stays.
import type { Snapshot } from '@guardband/model'
import { workerReply, type WorkerReply } from './answers/worker-reply.ts'

/** Loads the code before the first job needs it. */
export async function warm(): Promise<void> {
  await import('@guardband/questions/gain/compute')
}

export default function computeAnswer(snapshot: Snapshot): Promise<WorkerReply> {
  return workerReply(async () => {
    const { compute } = await import('@guardband/questions/gain/compute')
    return compute(snapshot)
  })
}
