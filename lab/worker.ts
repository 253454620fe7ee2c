// Runs in a worker thread: computes the answer of one snapshot. The question's code is loaded at the first job and stays.
import type { Snapshot } from '@guardband/model'
import { workerReply, type WorkerReply } from './answers/worker-reply.ts'

export default function computeAnswer(snapshot: Snapshot): Promise<WorkerReply> {
  return workerReply(async () => {
    const { compute } = await import('@guardband/questions/gain/compute')
    return compute(snapshot)
  })
}
