// One runner a journal folder: a lock file that names its process and boot, so that one left behind is told from one that is held.
import { linkSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { SpokenError } from '@guardband/model'
import { sameBoot } from './boot-id.ts'

export interface LockSources {
  readonly bootId: string
  readonly newId: () => string
}

/** Takes the lock and returns its release. Throws `rig-folder-busy` while another runner holds it. */
export function lockFolder(folder: string, sources: LockSources): () => void {
  mkdirSync(folder, { recursive: true })
  const path = join(folder, 'rig.lock')
  const mine = JSON.stringify({ pid: process.pid, started: processStart(process.pid), bootId: sources.bootId, id: sources.newId() })
  if (!placeWhole(path, mine, sources)) {
    const found = readLock(path)
    if (found !== null && isHeld(found, sources.bootId)) throw busy(folder, found)
    clearStale(path, found, sources)
    if (!placeWhole(path, mine, sources)) throw busy(folder, readLock(path))
  }
  return () => {
    if (readText(path) === mine) rmSync(path, { force: true })
  }
}

/** When a process started, in the kernel's ticks: tells a process from a later one with the same number. Null where the kernel doesn't say. */
export function processStart(pid: number): string | null {
  // Field 22 (proc_pid_stat(5)).
  return statFields(pid)?.[19] ?? null
}

/** True for a process that has ended and whose end nobody has collected yet: it still has its number. */
export function hasEnded(pid: number): boolean {
  return ['Z', 'X'].includes(statFields(pid)?.[0] ?? 'X')
}

/** The fields from the third one on; the second is a name in brackets that may hold spaces. */
function statFields(pid: number): readonly string[] | null {
  const stat = readText(`/proc/${pid}/stat`)
  return stat === null ? null : stat.slice(stat.lastIndexOf(')') + 2).split(' ')
}

interface Lock {
  readonly text: string
  readonly pid: number
  readonly started: string | null
  readonly bootId: string
}

/** Puts the lock in place with its content or not at all; false when one is there. */
function placeWhole(path: string, content: string, sources: LockSources): boolean {
  const draft = `${path}.${sources.newId()}`
  writeFileSync(draft, content)
  try {
    linkSync(draft, path)
    return true
  } catch (cause) {
    const code = errorCode(cause)
    if (code === 'EEXIST') return false
    // A file system without hard links: an exclusive file does, though a crash may leave it empty.
    return placeExclusive(path, content)
  } finally {
    rmSync(draft, { force: true })
  }
}

function placeExclusive(path: string, content: string): boolean {
  try {
    writeFileSync(path, content, { flag: 'wx' })
    return true
  } catch (cause) {
    if (errorCode(cause) === 'EEXIST') return false
    throw cause
  }
}

/** Moves a stale lock away; puts it back when another runner replaced it in between. */
function clearStale(path: string, found: Lock | null, sources: LockSources): void {
  const aside = `${path}.${sources.newId()}`
  try {
    renameSync(path, aside)
  } catch (cause) {
    if (errorCode(cause) === 'ENOENT') return
    throw cause
  }
  const moved = readLock(aside)
  if (moved !== null && moved.text !== found?.text && isHeld(moved, sources.bootId)) {
    placeExclusive(path, moved.text)
    rmSync(aside, { force: true })
    throw busy(path, moved)
  }
  rmSync(aside, { force: true })
}

function isHeld(lock: Lock, bootId: string): boolean {
  if (!sameBoot(lock.bootId, bootId)) return false
  try {
    process.kill(lock.pid, 0)
  } catch (cause) {
    // Any other refusal means that there is such a process, owned by somebody else.
    if (errorCode(cause) === 'ESRCH') return false
  }
  // Killed, and its parent has not looked yet: it holds nothing any more.
  const state = statFields(lock.pid)?.[0]
  if (state === 'Z' || state === 'X') return false
  const started = processStart(lock.pid)
  return lock.started === null || started === null || started === lock.started
}

function readLock(path: string): Lock | null {
  const text = readText(path)
  if (text === null) return null
  try {
    const { pid, started, bootId }: Record<string, unknown> = JSON.parse(text)
    if (typeof pid !== 'number' || typeof bootId !== 'string') return null
    return { text, pid, bootId, started: typeof started === 'string' ? started : null }
  } catch {
    return null
  }
}

function readText(path: string): string | null {
  try {
    return readFileSync(path, 'utf8')
  } catch {
    return null
  }
}

function errorCode(cause: unknown): string | undefined {
  return cause instanceof Error && 'code' in cause ? String(cause.code) : undefined
}

function busy(folder: string, lock: Lock | null): SpokenError {
  return new SpokenError({
    code: 'rig-folder-busy',
    place: folder,
    message: `another runner works in this folder${lock === null ? '' : ` (process ${lock.pid})`}.`,
    mend: 'Wait for it or stop it; or give this plan its own folder with --folder.',
  })
}
