// One hub a workspace: a lock file that names its holder, by process id, boot and start time, so that a dead holder's lock is no lock.
import { linkSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { randomBytes } from 'node:crypto'
import path from 'node:path'
import { SpokenError } from '@guardband/model'

export interface HubLock {
  readonly release: () => void
}

/** Takes the workspace's hub lock, or throws a sentence that names the process which holds it. */
export function takeHubLock(folder: string): HubLock {
  const file = path.join(folder, LOCK_FILE)
  const mine = JSON.stringify(holderOf(process.pid))
  const temporary = `${file}.${process.pid}.${randomBytes(4).toString('hex')}`
  writeFileSync(temporary, mine)
  try {
    for (let attempt = 0; attempt < ATTEMPTS; attempt++) {
      if (linkNew(temporary, file)) return { release: () => releaseOwn(file, mine) }
      const held = readText(file)
      if (held === null) continue
      const holder = parseHolder(held)
      if (holder !== null && isAlive(holder)) {
        throw new SpokenError({
          code: 'hub-running',
          place: folder,
          message: `another hub has this workspace open (process ${holder.pid}).`,
          mend: 'Use that one, or end it first.',
        })
      }
      removeStale(file, held)
    }
    throw new SpokenError({ code: 'hub-lock', place: folder, message: 'the hub lock could not be taken.', mend: `Remove ${LOCK_FILE} when no hub is running.` })
  } finally {
    rmSync(temporary, { force: true })
  }
}

interface Holder {
  readonly pid: number
  /** The operating system's id of this boot, where it has one. */
  readonly boot: string
  /** When the process began, in the system's own ticks since boot, where that can be read. */
  readonly started: string
}

const LOCK_FILE = 'hub.lock'

/** Each attempt follows a lock that vanished or was stale; more than a few means that something else keeps making them. */
const ATTEMPTS = 10

function holderOf(pid: number): Holder {
  return { pid, boot: readText('/proc/sys/kernel/random/boot_id')?.trim() ?? '', started: startedAt(pid) }
}

/** Field 22 of /proc/PID/stat (proc(5)); the command's name before it may hold spaces and brackets. */
function startedAt(pid: number): string {
  const stat = readText(`/proc/${pid}/stat`)
  return stat === null ? '' : (stat.slice(stat.lastIndexOf(')') + 2).split(' ')[STARTED_AFTER_NAME] ?? '')
}

/** Field 22 counts from 1 and the name is field 2, so the text after it begins with field 3. */
const STARTED_AFTER_NAME = 19

function isAlive(holder: Holder): boolean {
  const now = holderOf(holder.pid)
  if (holder.boot !== '' && holder.boot !== now.boot) return false
  if (holder.started !== '' && holder.started !== now.started) return false
  try {
    process.kill(holder.pid, 0)
    return true
  } catch (error) {
    // EPERM: it lives, but belongs to somebody else.
    return (error as NodeJS.ErrnoException).code === 'EPERM'
  }
}

function parseHolder(text: string): Holder | null {
  try {
    const value: unknown = JSON.parse(text)
    if (typeof value !== 'object' || value === null || !('pid' in value) || typeof value.pid !== 'number') return null
    return {
      pid: value.pid,
      boot: 'boot' in value && typeof value.boot === 'string' ? value.boot : '',
      started: 'started' in value && typeof value.started === 'string' ? value.started : '',
    }
  } catch {
    return null
  }
}

function linkNew(from: string, to: string): boolean {
  try {
    linkSync(from, to)
    return true
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EEXIST') return false
    throw error
  }
}

/** Moves the stale lock away, then looks whether it was the one judged: another process may have put its own in between. */
function removeStale(file: string, judged: string): void {
  const aside = `${file}.stale.${process.pid}`
  try {
    renameSync(file, aside)
  } catch {
    return
  }
  if (readText(aside) !== judged) linkNew(aside, file)
  rmSync(aside, { force: true })
}

function releaseOwn(file: string, mine: string): void {
  if (readText(file) === mine) rmSync(file, { force: true })
}

function readText(file: string): string | null {
  try {
    return readFileSync(file, 'utf8')
  } catch {
    return null
  }
}
