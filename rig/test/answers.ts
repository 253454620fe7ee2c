// People played by a list of answers, for tests: who was asked what, and an answer each in turn.
import type { People, Question } from '../index.ts'

export interface PlayedPeople {
  readonly people: People
  readonly asked: readonly Question[]
  /** Questions that are open now. */
  readonly open: () => number
}

/** After the last answer a question stays open until it is taken back. */
export function playPeople(answers: readonly (string | { readonly answer: string; readonly picture: Uint8Array })[], who = 'bench hand'): PlayedPeople {
  const asked: Question[] = []
  const left = [...answers]
  let open = 0
  return {
    asked,
    open: () => open,
    people: {
      present: true,
      ask: async (question, signal) => {
        signal.throwIfAborted()
        asked.push(question)
        const next = left.shift()
        if (next !== undefined) return { ...(typeof next === 'string' ? { answer: next } : next), who, via: 'phone' }
        open += 1
        return new Promise((_, reject) => {
          signal.addEventListener('abort', () => {
            open -= 1
            reject(signal.reason)
          }, { once: true })
        })
      },
    },
  }
}
