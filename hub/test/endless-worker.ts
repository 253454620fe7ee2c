// An answer worker for tests of the stream: it says twice how far it is and never comes to an end.
import type { MessagePort } from 'node:worker_threads'
import { setTimeout as wait } from 'node:timers/promises'

export default async function answer({ progress }: { readonly progress: MessagePort }): Promise<never> {
  // A message port has no origin to name.
  // oxlint-disable-next-line unicorn/require-post-message-target-origin
  for (const done of [0.25, 0.75]) progress.postMessage(done)
  for (;;) await wait(60_000)
}
