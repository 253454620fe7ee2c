// Whom a rig can ask, as a port: the person at its terminal, or whoever holds a phone that the hub or a companion knows.
import { SpokenError, unitText, type Ask, type ChangeLine } from '@guardband/model'
import { sheetLines } from './change-sheet.ts'
import type { Terminal } from './terminal.ts'
import { typedNumber } from './typed-number.ts'

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
  /** Where the question allowed one and it came. */
  readonly picture?: Uint8Array
}

export interface People {
  /** False: nobody can answer, neither here nor over a link. */
  readonly present: boolean
  /** The first answer that fits, from wherever it comes. Rejects when the signal is aborted first, by then with the question taken back. */
  readonly ask: (question: Question, signal: AbortSignal) => Promise<Said>
}

/** A rig that nobody watches. */
export const nobody: People = {
  present: false,
  ask: async () => {
    throw new RangeError('nobody can be asked here')
  },
}

/** Why a question is taken back where it was not answered: whoever sat before it is told. */
export class AnsweredElsewhere extends Error {
  readonly said: Said

  constructor(said: Said) {
    super('the question was answered elsewhere')
    this.name = 'AnsweredElsewhere'
    this.said = said
  }
}

/** A sentence on an answer that does not fit its question; null for one that does. */
export function unfitAnswer({ kind, words = [], unit }: Pick<Question, 'kind' | 'words' | 'unit'>, answer: string): string | null {
  if (kind === 'done') return null
  if (kind === 'choice') return words.includes(answer) ? null : `The answer must be ${inWords(words)}; got ${answer === '' ? 'nothing' : `"${answer.slice(0, SHOWN)}"`}.`
  if (unit === undefined) return answer.trim() === '' ? 'The answer must not be empty.' : null
  const read = typedNumber(answer, unit)
  return read.kind === 'value' ? null : read.message
}

/** Asks in several places at once; the first answer that fits counts, and the question is taken back elsewhere. One that does not fit is asked again where it came from. */
export function firstAnswer(all: readonly People[]): People {
  const there = all.filter(({ present }) => present)
  return {
    present: there.length > 0,
    ask: async (question, signal) => {
      const over = new AbortController()
      const either = AbortSignal.any([signal, over.signal])
      try {
        const asked = there.map((people) => askUntilFit(people, question, either))
        const said = await Promise.any(asked)
        over.abort(new AnsweredElsewhere(said))
        // The next question must not come before this one is taken back.
        await Promise.allSettled(asked)
        return said
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
    ask: async (question, signal) => {
      const { text, words = [], kind, unit, lines = [] } = question
      const hint = kind === 'done' ? ' Press Enter when it is done, Ctrl-C to stop.' : words.length > 0 ? ` Type ${inWords(words)}.` : unit === undefined || unitText(unit) === '' ? '' : ` In ${unitText(unit)}:`
      const above = text.split('\n')
      const last = above.pop() ?? ''
      for (const line of [...above, ...sheetLines(lines)]) terminal.say(line)
      for (let asked = `${last}${hint}`; ; asked = hint.trim() || last) {
        signal.throwIfAborted()
        const typed = (await heard(terminal, asked, signal)).trim()
        const answer = kind === 'done' ? '' : kind === 'choice' ? (words.find((known) => known.toLowerCase() === typed.toLowerCase()) ?? typed) : typed
        const fault = unfitAnswer(question, answer)
        if (fault === null) return { answer, who, via: 'terminal' }
        terminal.say(fault)
      }
    },
  }
}

/** Enough of a wrong answer to recognise it by. */
const SHOWN = 80

async function heard(terminal: Terminal, asked: string, signal: AbortSignal): Promise<string> {
  try {
    return await terminal.ask(asked, signal)
  } catch (cause) {
    const why: unknown = signal.reason
    if (!signal.aborted && cause instanceof Error && cause.name === 'AbortError') {
      throw new SpokenError({ code: 'person-needed', message: `the terminal was closed while a person was asked: ${asked}`, mend: 'Run the plan on a terminal; it goes on at this step.' })
    }
    if (why instanceof AnsweredElsewhere) terminal.say(`${why.said.answer === '' ? 'Done, says' : `"${why.said.answer}", says`} ${why.said.who}, ${VIA[why.said.via]}.`)
    throw cause
  }
}

const VIA: Readonly<Record<Said['via'], string>> = { terminal: 'at the terminal', phone: 'on a phone', page: 'on the page', companion: 'at the companion' }

async function askUntilFit(people: People, question: Question, signal: AbortSignal): Promise<Said> {
  for (let asked = question; ; ) {
    const said = await people.ask(asked, signal)
    const fault = unfitAnswer(question, said.answer)
    if (fault === null) return said
    asked = { ...question, text: `${fault}\n${question.text}` }
  }
}

function inWords(words: readonly string[]): string {
  return words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} or ${words[words.length - 1]}`
}
