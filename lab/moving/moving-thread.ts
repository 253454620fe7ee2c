// Starts a thread for one task of moving and follows it, so that whoever serves people meanwhile is never kept waiting.
import { availableParallelism } from 'node:os'
import { Readable } from 'node:stream'
import { Worker } from 'node:worker_threads'
import { SpokenError } from '@guardband/model'
import type { FromThread, MovingProgress, MovingResults, MovingTask, ThreadStart, ToThread } from './moving-task.ts'

export interface Following {
  /** Stops it; what it had made until then goes away, and it is rejected. */
  readonly signal?: AbortSignal | undefined
  readonly onProgress?: ((progress: MovingProgress) => void) | undefined
}

/** Resolves when the work is done and its thread has ended. Rejects with a SpokenError where a person can mend it. */
export function runInThread<Kind extends 'import' | 'backup' | 'check'>(task: MovingTask & { readonly kind: Kind }, { signal, onProgress }: Following = {}): Promise<MovingResults[Kind]> {
  const { worker, halt } = startThread(task)
  return new Promise((resolve, reject) => {
    let ended: (() => void) | undefined
    if (signal?.aborted === true) halt()
    signal?.addEventListener('abort', halt, { once: true })
    worker.on('message', (message: FromThread) => {
      if (message.kind === 'progress') onProgress?.(message.progress)
      // Each task replies with the result of its own kind.
      if (message.kind === 'done') ended = () => resolve(message.result as MovingResults[Kind])
      if (message.kind === 'refused') ended = () => reject(new SpokenError(message.error))
    })
    worker.once('error', reject)
    worker.once('exit', (code) => {
      signal?.removeEventListener('abort', halt)
      if (ended === undefined) reject(new Error(`the thread that does ${task.kind} ended by itself (${code})`))
      else ended()
    })
  })
}

/** Resolves once the export can be read. Destroyed before its end, it closes when nothing of it is left. */
export function streamFromThread(task: MovingTask & { readonly kind: 'export' }): Promise<Readable> {
  const { worker, halt } = startThread(task)
  let over = false
  let exited = false
  worker.once('exit', () => (exited = true))
  const stream = new Readable({
    highWaterMark: HELD_BYTES,
    // oxlint-disable-next-line unicorn/require-post-message-target-origin -- a thread has no origin; only windows do
    read: () => worker.postMessage('more' satisfies ToThread),
    destroy: (error, callback) => {
      if (!over) halt()
      if (exited) callback(error)
      else worker.once('exit', () => callback(error))
    },
  })
  return new Promise((resolve, reject) => {
    const fail = (error: Error): void => {
      over = true
      reject(error)
      stream.destroy(error)
    }
    // Whoever reads it learns of a fault by reading; one that comes before must not end the process.
    stream.on('error', () => undefined)
    worker.on('message', (message: FromThread) => {
      if (message.kind === 'ready') resolve(stream)
      if (message.kind === 'piece') stream.push(message.bytes)
      if (message.kind === 'done') {
        over = true
        stream.push(null)
      }
      if (message.kind === 'refused') fail(new SpokenError(message.error))
    })
    worker.once('error', fail)
    worker.once('exit', (code) => {
      if (!over) fail(new Error(`the thread that does ${task.kind} ended by itself (${code})`))
    })
  })
}

const WORKER = new URL('../moving-worker.ts', import.meta.url)
const HELD_BYTES = 256 * 1024
/** Records live until they are written: in a small nursery each would be copied several times. */
const YOUNG_MB = 256
const SMALL_YOUNG_MB = 64
const OLD_MB = 4096

function startThread(task: MovingTask): { readonly worker: Worker; readonly halt: () => void } {
  const stop = new SharedArrayBuffer(Int32Array.BYTES_PER_ELEMENT)
  const start: ThreadStart = { task, stop }
  const worker = new Worker(WORKER, { workerData: start, execArgv: [], resourceLimits: { maxYoungGenerationSizeMb: availableParallelism() > 1 ? YOUNG_MB : SMALL_YOUNG_MB, maxOldGenerationSizeMb: OLD_MB } })
  return {
    worker,
    halt: () => {
      Atomics.store(new Int32Array(stop), 0, 1)
      // oxlint-disable-next-line unicorn/require-post-message-target-origin -- a thread has no origin; only windows do
      worker.postMessage('stop' satisfies ToThread)
    },
  }
}
