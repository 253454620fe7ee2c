// What the machine tells of its last memory training: after one that failed or fell back it runs at safe defaults, whatever was asked of it.
import { resolve } from 'node:path'
import type { PlanTraining, Reading, Start } from '@guardband/model'
import { commandFault } from './command-fault.ts'
import { numberIn, readValue, type ReadingPlace } from './reading.ts'
import { execute, type RigContext } from './rig-context.ts'

export type Training = NonNullable<Start['training']>

export interface TrainingReading {
  readonly training: Training
  /** Why something of it is not known; null where all of it was read. */
  readonly message: string | null
}

/** Asked after a power-on. Null where the plan names nothing to read. A person is asked only where one is there: no plan stops over it. */
export async function readTraining(context: RigContext): Promise<TrainingReading | null> {
  const { training } = context.plan
  if (training === undefined) return null
  const { command } = training
  const end = command === undefined ? null : await execute(context, command, context.signal)
  context.signal.throwIfAborted()
  const fault = end === null ? null : commandFault(end)
  const place = { folder: resolve(context.planFolder, command?.folder ?? '.'), end, patterns: context.patterns }
  const readers = { context, place, fault }
  const result = await readOne(readers, training.result)
  const tries = await readCount(readers, training.tries, { whole: true, most: MOST_TRIES })
  const seconds = await readCount(readers, training.seconds, { whole: false, most: Number.MAX_VALUE })
  const postCode = await readOne(readers, training.postCode)
  const word = result.text === null ? null : (RESULTS.find((known) => known === result.text?.trim().toLowerCase()) ?? null)
  const odd = result.text !== null && word === null ? `memory training must read ${RESULTS.join(', ')}; got "${result.text.trim().slice(0, SHOWN)}"` : null
  const messages = [fault === null ? null : `what tells of memory training: its command ${fault}`, odd, ...(fault === null ? [result.message, tries.message, seconds.message, postCode.message] : [])].filter((message) => message !== null)
  return {
    training: {
      result: word ?? 'unknown',
      ...(tries.value === null ? {} : { tries: tries.value }),
      ...(seconds.value === null ? {} : { seconds: seconds.value }),
      ...(postCode.text === null || postCode.text.trim() === '' ? {} : { postCode: postCode.text.trim().slice(0, LONGEST_POST_CODE) }),
    },
    message: messages.length === 0 ? null : messages.join('; '),
  }
}

/** A sentence where the machine came up at safe defaults; null otherwise, also where nothing tells. */
export function trainingFault(reading: TrainingReading | null): string | null {
  const result = reading?.training.result
  return result === 'failed' || result === 'fallback' ? `memory training reads "${result}"` : null
}

const RESULTS = ['full', 'restored', 'failed', 'fallback'] as const

/** As the record of a start allows. */
const MOST_TRIES = 1000
const LONGEST_POST_CODE = 20
/** Enough of a wrong text to recognise it by. */
const SHOWN = 80

interface Readers {
  readonly context: RigContext
  readonly place: ReadingPlace
  /** Why its command told nothing. */
  readonly fault: string | null
}

interface OneRead {
  readonly text: string | null
  readonly message: string | null
}

async function readOne({ context, place, fault }: Readers, reading: PlanTraining['result'] | undefined): Promise<OneRead> {
  if (reading === undefined) return { text: null, message: null }
  if ('typed' in reading) return askOne(context, reading.typed)
  if (fault !== null && 'in' in reading) return { text: null, message: null }
  const read = await readValue(reading, place)
  return read.kind === 'value' ? { text: read.text, message: null } : { text: null, message: `memory training: ${read.message}` }
}

async function askOne(context: RigContext, text: string): Promise<OneRead> {
  if (!context.people.present) return { text: null, message: `nobody was there to be asked about memory training: ${text}` }
  const { answer } = await context.ask({ kind: 'value', step: 'memory training', text })
  return { text: answer, message: null }
}

interface Bounds {
  readonly whole: boolean
  readonly most: number
}

async function readCount(readers: Readers, reading: Reading | undefined, { whole, most }: Bounds): Promise<{ readonly value: number | null; readonly message: string | null }> {
  if (reading === undefined) return { value: null, message: null }
  const { text, message } = await readOne(readers, reading)
  if (text === null) return { value: null, message }
  const read = numberIn(text)
  if (read.kind === 'missing') return { value: null, message: `memory training: ${read.message}` }
  const fits = read.value >= 0 && read.value <= most && (!whole || Number.isInteger(read.value))
  return fits ? { value: read.value, message: null } : { value: null, message: `memory training: ${whole ? 'tries must be a whole number, zero' : 'seconds must be zero'} or above; got ${read.value}` }
}
