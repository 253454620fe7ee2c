// Reads one value out of what a command printed, out of a file, or off the clock.
import { readFile, stat } from 'node:fs/promises'
import { resolve } from 'node:path'
import type { Reading } from '@guardband/model'
import type { CapturedText, CommandEnd } from './command-driver.ts'
import { readPointer } from './json-pointer.ts'
import type { PatternFinder } from './pattern-finder.ts'

export type ReadingResult = { readonly kind: 'value'; readonly text: string } | { readonly kind: 'missing'; readonly message: string }

export type NumberResult = { readonly kind: 'value'; readonly value: number } | { readonly kind: 'missing'; readonly message: string }

export interface ReadingPlace {
  /** A file is looked for from here. */
  readonly folder: string
  /** What the command printed, null where there was none. */
  readonly end: Pick<CommandEnd, 'output' | 'errorOutput' | 'seconds'> | null
  readonly patterns: PatternFinder
}

/** The value as text. What is missing comes with a sentence that says where it was sought. */
export async function readValue(reading: Reading, place: ReadingPlace): Promise<ReadingResult> {
  if ('elapsed' in reading) {
    return place.end === null ? missing('elapsed seconds need a command') : { kind: 'value', text: String(place.end.seconds) }
  }
  if ('typed' in reading) return missing('this value is typed by a person')
  const source = await sourceText(reading, place)
  if (source.kind === 'missing') return source
  const where = source.cut ? `${source.name} (its last ${source.text.length} characters; the rest was not kept)` : source.name
  if ('pointer' in reading) return pointerValue(reading.pointer, source.text, where)
  const found = await place.patterns.find(reading.pattern, source.text)
  if (found.kind === 'found') return { kind: 'value', text: found.text }
  return missing(found.kind === 'too slow' ? `the pattern ${reading.pattern} took longer than 2 s over ${where}; make it simpler` : `the pattern ${reading.pattern} was not found in ${where}`)
}

/** The value as a finite number in plain or exponent notation with a decimal point. */
export async function readNumber(reading: Reading, place: ReadingPlace): Promise<NumberResult> {
  const result = await readValue(reading, place)
  return result.kind === 'missing' ? result : numberIn(result.text)
}

export function numberIn(read: string): NumberResult {
  const text = read.trim()
  const value = NUMBER.test(text) ? Number(text) : Number.NaN
  if (Number.isFinite(value)) return { kind: 'value', value }
  const comma = /^[+-]?\d+,\d+$/.test(text) ? ' Numbers need a decimal point.' : ''
  return missing(`a finite number was expected; got "${text.slice(0, SHOWN)}".${comma}`)
}

/** What tells whether a file was written since: compared before and after a run. Null where there is none. */
export async function fileMark(file: string, folder: string): Promise<string | null> {
  try {
    const { ino, size, mtimeNs, ctimeNs } = await stat(resolve(folder, file), { bigint: true })
    return [ino, size, mtimeNs, ctimeNs].join(' ')
  } catch {
    return null
  }
}

const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/

/** Enough of a wrong text to recognise it by. */
const SHOWN = 80

/** A result file is small; a larger one would stall the rig. */
const FILE_LIMIT = 16 * 1024 * 1024

type SourceText = { readonly kind: 'text'; readonly text: string; readonly name: string; readonly cut: boolean } | { readonly kind: 'missing'; readonly message: string }

async function sourceText(reading: Exclude<Reading, { elapsed: 'seconds' } | { typed: string }>, { folder, end }: ReadingPlace): Promise<SourceText> {
  if ('file' in reading) {
    const path = resolve(folder, reading.file)
    try {
      const { size } = await stat(path)
      if (size > FILE_LIMIT) return missing(`${path} must be at most 16 MiB; got ${size} bytes`)
      return { kind: 'text', text: await readFile(path, 'utf8'), name: path, cut: false }
    } catch (cause) {
      return missing(`${path} could not be read (${cause instanceof Error ? cause.message : String(cause)})`)
    }
  }
  if (end === null) return missing('the reading needs a command or a file')
  const captured: CapturedText = reading.in === 'output' ? end.output : end.errorOutput
  return { kind: 'text', text: captured.text, name: `the ${reading.in}`, cut: captured.cut }
}

function pointerValue(pointer: string, text: string, where: string): ReadingResult {
  let document: unknown
  try {
    document = JSON.parse(text)
  } catch {
    return missing(`${where} must be JSON for the pointer "${pointer}"; got "${text.trim().slice(0, SHOWN)}"`)
  }
  const value = readPointer(document, pointer)
  if (typeof value === 'string' || typeof value === 'number' || typeof value === 'boolean') return { kind: 'value', text: String(value) }
  return missing(value === undefined ? `there is nothing at "${pointer}" in ${where}` : `a single value was expected at "${pointer}" in ${where}; got ${Array.isArray(value) ? 'a list' : 'an object or null'}`)
}

function missing(message: string): { readonly kind: 'missing'; readonly message: string } {
  return { kind: 'missing', message }
}
