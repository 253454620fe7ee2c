// Whom a rig can ask, as a port: the person at its terminal, or whoever holds a phone that the hub or a companion knows.
import type { Ask, ChangeLine } from '@guardband/model'
import type { Terminal } from './terminal.ts'

export interface Question {
  /** done: something is to be done at the machine; choice: one of `words`; value: a figure or word to type. */
  readonly kind: Ask['kind']
  readonly step: string
  readonly text: string
  readonly words?: readonly string[]
  /** Of a value that must be a number. */
  readonly unit?: string
  /** The numbered sheet of what must differ from what is in force. */
  readonly lines?: readonly ChangeLine[]
  readonly picture?: boolean
}

export interface Said {
  /** Empty for "done"; one of the words of a choice; what was typed. */
  readonly answer: string
  readonly who: string
  readonly via: 'terminal' | 'phone' | 'page' | 'companion'
}

export interface People {
  /** False: nobody can answer, neither here nor over a link. */
  readonly present: boolean
  /** The first answer that fits, from wherever it comes. Rejects when the signal is aborted first. */
  readonly ask: (question: Question, signal: AbortSignal) => Promise<Said>
}

/** A rig that nobody watches. */
export const nobody: People = {
  present: false,
  ask: async () => {
    throw new RangeError('nobody can be asked here')
  },
}

/** Asks in several places at once; the first answer counts, and the question is taken back elsewhere. */
export function firstAnswer(all: readonly People[]): People {
  const there = all.filter(({ present }) => present)
  return {
    present: there.length > 0,
    ask: async (question, signal) => {
      const over = new AbortController()
      try {
        return await Promise.any(there.map((people) => people.ask(question, AbortSignal.any([signal, over.signal]))))
      } catch (cause) {
        signal.throwIfAborted()
        throw cause instanceof AggregateError ? (cause.errors[0] ?? cause) : cause
      } finally {
        over.abort()
      }
    },
  }
}

/** Only the person at this terminal. */
export function peopleAtTerminal(terminal: Terminal, who: string): People {
  return {
    present: terminal.interactive,
    ask: async ({ text, words = [], kind }, signal) => {
      const hint = kind === 'done' ? ' Press Enter when it is done, Ctrl-C to stop.' : words.length === 0 ? '' : ` Type ${words.slice(0, -1).join(', ')} or ${words[words.length - 1]}.`
      const lines = text.split('\n')
      for (const line of lines.slice(0, -1)) terminal.say(line)
      for (let asked = `${lines[lines.length - 1]}${hint}`; ; asked = hint.trim()) {
        signal.throwIfAborted()
        const answer = (await terminal.ask(asked, signal)).trim()
        const word = words.find((known) => known === answer.toLowerCase())
        if (kind !== 'choice') return { answer: kind === 'done' ? '' : answer, who, via: 'terminal' }
        if (word !== undefined) return { answer: word, who, via: 'terminal' }
      }
    },
  }
}
