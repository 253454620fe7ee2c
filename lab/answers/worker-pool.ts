// The worker threads that compute answers: started with the first job, kept warm, interrupted at once, and given up when their program can't be loaded.
import { existsSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { fileURLToPath } from 'node:url'
import { MessageChannel } from 'node:worker_threads'
import { Piscina } from 'piscina'
import { SpokenError, type Answer, type Snapshot } from '@guardband/model'
import { openReply, type WorkerReply, type WorkerTask } from './worker-reply.ts'

export interface WorkerPool {
  readonly started: () => boolean
  /** Never rejects: the first answer loads the code itself, and says what is wrong with it. */
  readonly warm: (kinds: readonly Answer['kind'][]) => Promise<void>
  readonly compute: (job: { readonly snapshot: Snapshot; readonly digest: string }, how: { readonly signal: AbortSignal; readonly onProgress: (done: number) => void }) => Promise<Answer>
  readonly close: () => Promise<void>
}

export function createWorkerPool(program: URL): WorkerPool {
  let pool: Piscina | undefined
  /** Why a pool was given up: what its waiting jobs reject with says only that it ended. */
  const reasons = new WeakMap<Piscina, unknown>()

  const open = (): Piscina => {
    if (pool !== undefined) return pool
    if (program.protocol === 'file:' && !existsSync(program)) {
      throw new SpokenError({ code: 'no-worker', place: fileURLToPath(program), message: 'the program that computes answers is not there.', mend: 'Install Guardband anew; the records are unharmed.' })
    }
    const made = new Piscina({
      filename: program.href,
      minThreads: 1,
      maxThreads: Math.max(1, availableParallelism() - 1),
      idleTimeout: Number.POSITIVE_INFINITY,
      // A worker needs none of the arguments that this process was started with.
      execArgv: [],
    })
    // Comes where a thread ends without a job; unheard it would end the process.
    made.on('error', (error: unknown) => giveUpIfDead(made, error))
    pool = made
    return made
  }
  /** A pool whose threads ended while they loaded starts no others, and what waits in it would wait for ever. */
  const giveUpIfDead = (own: Piscina, error: unknown): void => {
    if (own.threads.length > 0 || reasons.has(own)) return
    reasons.set(own, error)
    if (pool === own) pool = undefined
    void own.destroy()
  }
  const run = async (own: Piscina, work: () => Promise<unknown>): Promise<unknown> => {
    try {
      return await work()
    } catch (error) {
      giveUpIfDead(own, error)
      throw reasons.get(own) ?? error
    }
  }

  return {
    started: () => pool !== undefined,
    warm: async (kinds) => {
      try {
        const own = open()
        await run(own, () => own.run(kinds, { name: 'warm' }))
      } catch {
        // As promised above.
      }
    },
    compute: async ({ snapshot, digest }, { signal, onProgress }) => {
      const own = open()
      const { port1: heard, port2: progress } = new MessageChannel()
      heard.on('message', onProgress)
      try {
        const task: WorkerTask = { snapshot, digest, progress }
        // What the worker's default export returns.
        return openReply((await run(own, () => own.run(task, { signal, transferList: [progress] }))) as WorkerReply)
      } finally {
        heard.close()
      }
    },
    close: async () => {
      await pool?.destroy()
    },
  }
}
