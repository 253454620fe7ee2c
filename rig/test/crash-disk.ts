// A disk in memory that keeps apart what was synced from what was only written, logs every operation, and yields every state that may survive a crash.
import { basename, dirname } from 'node:path'
import type { JournalDisk } from '../index.ts'

/** One operation at the disk, in the order in which they were finished. */
export type DiskStep =
  | { readonly kind: 'made'; readonly path: string }
  /** The file's name is on the disk from here on; before, it may be there or not. */
  | { readonly kind: 'named'; readonly path: string }
  | { readonly kind: 'appended'; readonly path: string; readonly bytes: Uint8Array }
  | { readonly kind: 'synced'; readonly path: string }

export type Files = ReadonlyMap<string, Uint8Array>

export interface RecordingDisk {
  readonly disk: JournalDisk
  readonly steps: readonly DiskStep[]
}

/** Over what an earlier crash left. */
export function recordingDisk(left: Files = new Map()): RecordingDisk {
  const files = new Map([...left].map(([path, bytes]) => [path, [bytes]]))
  const steps: DiskStep[] = []
  const has = (path: string): Uint8Array[] => {
    const pieces = files.get(path)
    if (pieces === undefined) throw new Error(`there must be a file ${path}`)
    return pieces
  }
  return {
    steps,
    disk: {
      makeFolder: async () => {},
      list: async (folder) => [...files.keys()].filter((path) => dirname(path) === folder).map((path) => basename(path)).toSorted(),
      read: async (path) => Buffer.concat(has(path)),
      freeBytes: async () => 1e12,
      settle: async (path) => void steps.push({ kind: 'synced', path }),
      create: async (path) => {
        if (files.has(path)) throw new Error(`${path} exists`)
        files.set(path, [])
        steps.push({ kind: 'made', path }, { kind: 'named', path })
        return {
          append: async (bytes) => {
            has(path).push(Uint8Array.from(bytes))
            steps.push({ kind: 'appended', path, bytes: Uint8Array.from(bytes) })
          },
          sync: async () => void steps.push({ kind: 'synced', path }),
          close: async () => {},
        }
      },
    },
  }
}

/** A disk that holds just these files. */
export function diskOf(files: Files): JournalDisk {
  return recordingDisk(files).disk
}

export interface CrashState {
  /** So many steps of the log were finished. */
  readonly after: number
  readonly files: Files
}

/** How finely a file's unsynced end is cut: at every byte, or where it matters (lines, sectors, beside them, in the middle of each). */
export type Cuts = 'every byte' | 'where it matters'

const SECTOR = 512
/** Of more open sectors than this not all subsets are tried: 2^12 states for one point. */
const MOST_SECTORS = 12

/**
 * Every state that a crash may leave after each step of the log. What was synced stands, with its name once that is on the disk. Of what was written
 * since, any part may be there: cut at a byte, sectors before the cut missing (zeros, as a file system leaves them), a file's name missing with all of it; and
 * where two files are open, any part of one with any of the other.
 */
export function* crashStates(steps: readonly DiskStep[], { left = new Map(), cuts }: { readonly left?: Files; readonly cuts: Cuts }): Generator<CrashState> {
  const synced = new Map<string, Uint8Array>(left)
  const open = new Map<string, OpenFile>()
  for (let after = 0; after <= steps.length; after++) {
    if (after > 0) apply(steps[after - 1], synced, open)
    const unsettled = [...open].filter(([, { named, bytes }]) => !named || bytes.length > 0)
    for (const left of together(unsettled.map(([path, file]) => [path, [...survivorsOf(synced.get(path), file, cuts)]]))) {
      const files = new Map(synced)
      for (const [path, bytes] of left) {
        if (bytes === null) files.delete(path)
        else files.set(path, bytes)
      }
      yield { after, files }
    }
  }
}

interface OpenFile {
  readonly named: boolean
  readonly bytes: Uint8Array
}

/** Null stands for a name that is not there. */
type Survivor = Uint8Array | null

function* survivorsOf(before: Uint8Array = new Uint8Array(), { named, bytes }: OpenFile, cuts: Cuts): Generator<Survivor> {
  if (!named) yield null
  for (const rest of survivors(before.length, bytes, cuts)) yield Buffer.concat([before, rest])
}

/** Files reach the disk in any order: each state of one with each of the others. */
function* together(files: readonly (readonly [string, readonly Survivor[]])[]): Generator<readonly (readonly [string, Survivor])[]> {
  if (files.length === 0) return yield []
  const [[path, states], ...others] = files
  for (const rest of together(others)) for (const state of states) yield [[path, state], ...rest]
}

function apply(step: DiskStep, synced: Map<string, Uint8Array>, open: Map<string, OpenFile>): void {
  const { kind, path } = step
  if (kind === 'made') {
    synced.set(path, new Uint8Array())
    open.set(path, { named: false, bytes: new Uint8Array() })
    return
  }
  const file = open.get(path) ?? { named: true, bytes: new Uint8Array() }
  if (kind === 'named') open.set(path, { ...file, named: true })
  else if (kind === 'appended') open.set(path, { ...file, bytes: Buffer.concat([file.bytes, step.bytes]) })
  else {
    synced.set(path, Buffer.concat([synced.get(path) ?? new Uint8Array(), file.bytes]))
    // Syncing a file says nothing about its folder.
    open.set(path, { named: file.named, bytes: new Uint8Array() })
  }
}

/** What may be left of bytes that were written from this place of a file on and not synced. */
function* survivors(from: number, bytes: Uint8Array, cuts: Cuts): Generator<Uint8Array> {
  for (const length of lengthsOf(from, bytes, cuts)) {
    const kept = bytes.slice(0, length)
    yield kept
    const sectors = sectorsOf(from, length)
    if (sectors.length > MOST_SECTORS) throw new Error(`at most ${MOST_SECTORS} sectors may be open at once; got ${sectors.length}`)
    // A later sector may be there while an earlier one is not. All subsets, at the whole length only: a cut within is one more missing tail.
    if (length !== bytes.length) continue
    for (let missing = 1; missing < 2 ** sectors.length; missing++) {
      // A Buffer's own slice would share the memory.
      const torn = Uint8Array.from(kept)
      sectors.forEach(([start, end], place) => {
        if ((missing >> place) % 2 === 1) torn.fill(0, start, end)
      })
      yield torn
    }
  }
}

function lengthsOf(from: number, bytes: Uint8Array, cuts: Cuts): readonly number[] {
  if (bytes.length === 0) return [0]
  if (cuts === 'every byte') return Array.from({ length: bytes.length + 1 }, (_, length) => length)
  const lengths = new Set([0, bytes.length])
  const ends = [...bytes.keys()].filter((place) => bytes[place] === 0x0a).map((place) => place + 1)
  let start = 0
  for (const end of ends) {
    for (const length of [start + 1, Math.floor((start + end) / 2), end - 1, end]) lengths.add(length)
    start = end
  }
  for (const [, end] of sectorsOf(from, bytes.length)) for (const length of [end - 1, end]) lengths.add(length)
  return [...lengths].filter((length) => length >= 0 && length <= bytes.length).toSorted((a, b) => a - b)
}

/** Sectors of the disk that these bytes touch, as places among the bytes. */
function sectorsOf(from: number, length: number): readonly (readonly [number, number])[] {
  const sectors: (readonly [number, number])[] = []
  for (let start = 0; start < length; ) {
    const end = Math.min(length, (Math.floor((from + start) / SECTOR) + 1) * SECTOR - from)
    sectors.push([start, end])
    start = end
  }
  return sectors
}
