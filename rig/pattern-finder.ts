// Finds a person's pattern in a text within a time limit.
import { createContext, Script } from 'node:vm'

export type PatternResult = { readonly kind: 'found'; readonly text: string } | { readonly kind: 'not found' } | { readonly kind: 'too slow' }

export interface PatternFinder {
  /** The first group of the first match; `^` and `$` match at lines. */
  readonly find: (pattern: string, text: string) => Promise<PatternResult>
  readonly close: () => Promise<void>
}

/** Longest time that a pattern may search. */
export const PATTERN_SECONDS = 2

/**
 * A search that takes too long is broken off by the engine itself (it looks for that wish whenever a pattern steps back). The rig stands still meanwhile, at
 * most for that limit: a thread would cost the machine under test some 20 MB of memory all through its runs.
 */
export function createPatternFinder(): PatternFinder {
  const room = createContext(Object.create(null))
  return {
    find: async (pattern, text) => {
      Object.assign(room, { pattern, text })
      try {
        const found: unknown = SEARCH.runInContext(room, { timeout: PATTERN_SECONDS * 1000 })
        return typeof found === 'string' ? { kind: 'found', text: found } : { kind: 'not found' }
      } catch (cause) {
        // By its code alone: such an error belongs to the room, whose Error is another one.
        if (typeof cause === 'object' && cause !== null && 'code' in cause && cause.code === 'ERR_SCRIPT_EXECUTION_TIMEOUT') return { kind: 'too slow' }
        throw cause
      } finally {
        Object.assign(room, { pattern: '', text: '' })
      }
    },
    close: async () => {},
  }
}

const SEARCH = new Script(`new RegExp(pattern, 'm').exec(text)?.[1]`)
