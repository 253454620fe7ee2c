// Runs one pattern over one text in its own thread: a person's pattern may never end, and only a thread can be ended from outside.
import { parentPort } from 'node:worker_threads'

parentPort?.on('message', ({ pattern, text }: { readonly pattern: string; readonly text: string }) => {
  const found = new RegExp(pattern, 'm').exec(text)
  // oxlint-disable-next-line unicorn/require-post-message-target-origin -- a thread of Node has no origin
  parentPort?.postMessage({ found: found?.[1] ?? null })
})
