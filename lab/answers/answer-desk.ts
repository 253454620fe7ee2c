// Answers on demand: from the cache, or computed by the workers, once for all who wait, and cancelled when nobody wants it or the data have changed.
import { answerSchema, SpokenError, type Answer, type AnswerReply, type Snapshot } from '@guardband/model'
import type { LabCore } from '../lab-core.ts'
import type { AnswerProgress } from '../lab.ts'
import type { SnapshotBook } from '../snapshots/snapshot-book.ts'
import { createAnswerCache, type AnswerCache } from './answer-cache.ts'
import { createWorkerPool } from './worker-pool.ts'

export interface AnswerDesk {
  readonly cache: AnswerCache
  readonly now: (questionId: string, begin: 'when needed' | 'again') => AnswerReply
  readonly answer: (questionId: string, signal: AbortSignal | undefined) => Promise<Answer>
  readonly cancel: (questionId: string) => boolean
  readonly warm: () => Promise<void>
  readonly onProgress: (listener: (progress: AnswerProgress) => void) => () => void
  readonly close: () => Promise<void>
}

export function createAnswerDesk(core: LabCore, book: SnapshotBook): AnswerDesk {
  const cache = createAnswerCache(core)
  const jobs = new Map<string, Job>()
  const listeners = new Set<(progress: AnswerProgress) => void>()
  const pool = createWorkerPool(core.sources.answerWorker ?? WORKER)
  let closed = false

  const tell = (progress: AnswerProgress): void => {
    for (const listener of listeners) listener(progress)
  }
  /** A question never answered needs a worker for certain: its code loads while the snapshot is built here. */
  const getReadyFor = (questionId: string): void => {
    if (closed || pool.started() || cache.latest(questionId) !== undefined) return
    const question = core.store.get(questionId)
    if (question?.kind === 'question') void pool.warm([question.ask.kind])
  }

  const begin = (questionId: string, snapshot: Snapshot, digest: string): Job => {
    if (closed) throw new SpokenError({ code: 'lab-closed', message: 'the workspace is closed.' })
    jobs.get(questionId)?.abort.abort()
    const abort = new AbortController()
    const began = core.sources.now()
    const seconds = (): number => Math.max(0, (core.sources.now() - began) / 1000)
    const onProgress = (done: number): void => {
      if (job.state !== 'computing' || abort.signal.aborted) return
      job.progress = done
      tell({ questionId, state: 'computing', progress: done, seconds: seconds() })
    }
    const work = pool.compute({ snapshot, digest }, { signal: abort.signal, onProgress }).then(
      (raw) => {
        if (abort.signal.aborted) throw cancelled()
        const answer = checkAnswer(raw, digest)
        if (!closed) cache.put(answer)
        return answer
      },
      (error: unknown) => {
        throw abort.signal.aborted ? cancelled() : spoken(error)
      },
    )
    const job: Job = { digest, abort, seconds, state: 'computing', progress: 0, sentence: '', work }
    jobs.set(questionId, job)
    tell({ questionId, state: 'computing', progress: 0, seconds: 0 })
    void report(questionId, job)
    return job
  }

  const report = async (questionId: string, job: Job): Promise<void> => {
    try {
      await job.work
      if (jobs.get(questionId) === job) jobs.delete(questionId)
      tell({ questionId, state: 'ready', progress: 1, seconds: job.seconds() })
    } catch (error) {
      const reason = spoken(error)
      job.state = reason.code === CANCELLED ? 'cancelled' : 'failed'
      job.sentence = reason.sentence
      tell({ questionId, state: job.state, seconds: job.seconds() })
    }
  }

  return {
    cache,
    now: (questionId, wish) => {
      getReadyFor(questionId)
      let wanted
      try {
        wanted = book.of(questionId)
      } catch (error) {
        if (error instanceof SpokenError && error.code !== 'no-question') return { state: 'failed', sentence: error.sentence }
        throw error
      }
      const known = cache.get(wanted.digest)
      if (known !== undefined) return { state: 'ready', answer: known }
      let job = jobs.get(questionId)
      const over = job !== undefined && job.state !== 'computing'
      if (job === undefined || job.digest !== wanted.digest || (over && wish === 'again')) job = begin(questionId, wanted.snapshot, wanted.digest)
      if (job.state === 'computing') return { state: 'computing', progress: job.progress, seconds: job.seconds() }
      return job.state === 'cancelled' ? { state: 'cancelled' } : { state: 'failed', sentence: job.sentence }
    },
    answer: async (questionId, signal) => {
      if (signal?.aborted === true) throw cancelled()
      getReadyFor(questionId)
      const { snapshot, digest } = book.of(questionId)
      const known = cache.get(digest)
      if (known !== undefined) return known
      const running = jobs.get(questionId)
      const job = running !== undefined && running.digest === digest && running.state === 'computing' ? running : begin(questionId, snapshot, digest)
      const stop = (): void => job.abort.abort()
      signal?.addEventListener('abort', stop, { once: true })
      try {
        return await job.work
      } finally {
        signal?.removeEventListener('abort', stop)
      }
    },
    cancel: (questionId) => {
      const job = jobs.get(questionId)
      if (job?.state !== 'computing') return false
      job.abort.abort()
      return true
    },
    warm: async () => {
      if (!closed) await pool.warm([...new Set(core.store.list('question').map(({ ask }) => ask.kind))])
    },
    onProgress: (listener) => {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    close: async () => {
      closed = true
      const running = [...jobs.values()].filter((job) => job.state === 'computing')
      for (const job of running) job.abort.abort()
      await Promise.allSettled(running.map((job) => job.work))
      await pool.close()
      listeners.clear()
    },
  }
}

interface Job {
  readonly digest: string
  readonly abort: AbortController
  readonly seconds: () => number
  readonly work: Promise<Answer>
  state: 'computing' | 'cancelled' | 'failed'
  /** Share done, from 0 to 1. */
  progress: number
  sentence: string
}

const WORKER = new URL('../worker.ts', import.meta.url)
const CANCELLED = 'cancelled'

function cancelled(): SpokenError {
  return new SpokenError({ code: CANCELLED, message: 'the computation was cancelled.', mend: 'Ask again to begin it anew.' })
}

function spoken(error: unknown): SpokenError {
  if (error instanceof SpokenError) return error
  return new SpokenError({ code: 'compute-failed', message: `the answer could not be computed (${error instanceof Error ? error.message : String(error)}).`, mend: 'The records are unharmed; run the check, or report this.' })
}

/** Nothing that is not a whole answer reaches the cache or a surface: no NaN, no missing field, no answer to another snapshot. */
function checkAnswer(raw: Answer, digest: string): Answer {
  const parsed = answerSchema.safeParse(raw)
  if (!parsed.success) {
    const issue = parsed.error.issues[0]
    throw new SpokenError({ code: 'bad-answer', message: `the computation gave no sound answer (${issue?.path.join('.') ?? ''}: ${issue?.message ?? ''}).` })
  }
  if (parsed.data.snapshotDigest !== digest) {
    throw new SpokenError({ code: 'bad-answer', message: `the answer must carry the digest ${digest}; got ${parsed.data.snapshotDigest}.` })
  }
  return parsed.data
}
