// Finds a person's pattern in a text within a time limit.
import { Worker } from 'node:worker_threads'

export type PatternResult = { readonly kind: 'found'; readonly text: string } | { readonly kind: 'not found' } | { readonly kind: 'too slow' }

export interface PatternFinder {
  /** The first group of the first match; `^` and `$` match at lines. */
  readonly find: (pattern: string, text: string) => Promise<PatternResult>
  readonly close: () => Promise<void>
}

/** Longest time that a pattern may search. */
export const PATTERN_SECONDS = 2

/** One thread, kept between searches and ended when a search takes too long. One search at a time. */
export function createPatternFinder(): PatternFinder {
  let worker: Worker | undefined
  const drop = async () => {
    const ending = worker
    worker = undefined
    await ending?.terminate()
  }
  return {
    find: async (pattern, text) => {
      // Without the parent's own arguments, which may load what a thread doesn't need.
      worker ??= new Worker(new URL('./pattern-worker.ts', import.meta.url), { execArgv: ['--disable-warning=ExperimentalWarning'] })
      const result = await ask(worker, { pattern, text })
      if (result.kind === 'too slow') await drop()
      return result
    },
    close: drop,
  }
}

function ask(worker: Worker, question: { readonly pattern: string; readonly text: string }): Promise<PatternResult> {
  return new Promise((resolve, reject) => {
    const settle = (then: () => void) => {
      clearTimeout(limit)
      worker.off('message', onMessage)
      worker.off('error', onError)
      then()
    }
    const onMessage = ({ found }: { readonly found: string | null }) => settle(() => resolve(found === null ? { kind: 'not found' } : { kind: 'found', text: found }))
    const onError = (cause: unknown) => settle(() => reject(cause instanceof Error ? cause : new Error(String(cause))))
    const limit = setTimeout(() => settle(() => resolve({ kind: 'too slow' })), PATTERN_SECONDS * 1000)
    worker.on('message', onMessage)
    worker.on('error', onError)
    // oxlint-disable-next-line unicorn/require-post-message-target-origin -- a thread of Node has no origin
    worker.postMessage(question)
  })
}
