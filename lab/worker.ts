// Runs in a worker thread: computes the answer of one snapshot. The code of a question kind is loaded at its first job and stays.
import type { Answer } from '@guardband/model'
import { loadCompute } from '@guardband/questions/by-kind'
import { atMostOften } from './answers/at-most-often.ts'
import { workerReply, type WorkerReply, type WorkerTask } from './answers/worker-reply.ts'

/** Loads the code before the first job needs it. */
export async function warm(kinds: readonly Answer['kind'][]): Promise<void> {
  await Promise.all(kinds.map((kind) => loadCompute[kind]()))
}

export default function computeAnswer({ snapshot, digest, progress }: WorkerTask): Promise<WorkerReply> {
  // A message port has no origin to name.
  // oxlint-disable-next-line unicorn/require-post-message-target-origin
  const post = (done: number): void => progress.postMessage(done)
  const onProgress = atMostOften(post, { everyMilliseconds: 100, now: () => performance.now() })
  return workerReply(async () => (await loadCompute[snapshot.kind]())(snapshot, { digest, onProgress }))
}
