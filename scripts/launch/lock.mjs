/** One preparation of the tree at a time: a lock file that names its holder, and that outlives no holder. */
import { existsSync, mkdirSync, readFileSync, rmSync, statSync, utimesSync, writeFileSync } from 'node:fs'
import { uptime } from 'node:os'
import { dirname } from 'node:path'
import { setTimeout as pause } from 'node:timers/promises'

const beatEveryMs = 2_000
/** A process number is soon used again, above all in a container: no beat for this long, and the holder is another. */
const silentAfterMs = 5 * 60_000
/** Written in the same breath as it is made; an empty file older than this was left by a power cut. */
const emptyAfterMs = 10_000
/** A look and a removal; whoever is at it for longer was killed in between. */
const clearingTakesMs = 10_000
const lookEveryMs = 300

/**
 * @typedef {{ readonly noteChild: (pid: number) => void }} Lock
 * @typedef {{ readonly pid: number, readonly child?: number }} Holder
 */

/**
 * Runs `work` while holding the lock. The holder notes its child, since an installer that lost its parent
 * still writes: the lock stays taken until both are gone.
 * @template T
 * @param {string} path
 * @param {(line: string) => void} say
 * @param {(lock: Lock) => Promise<T>} work
 * @returns {Promise<T>}
 */
export async function withLock(path, say, work) {
  mkdirSync(dirname(path), { recursive: true })
  let told = false
  while (!take(path)) {
    if (clearStale(path)) continue
    if (!told) say('Another start is preparing this folder; waiting for it ...')
    told = true
    await pause(lookEveryMs)
  }
  const beat = setInterval(() => {
    const now = new Date()
    if (existsSync(path)) utimesSync(path, now, now)
  }, beatEveryMs)
  try {
    return await work({ noteChild: (child) => writeFileSync(path, JSON.stringify({ pid: process.pid, child })) })
  } finally {
    clearInterval(beat)
    rmSync(path, { force: true })
  }
}

/** @param {string} path */
function take(path) {
  try {
    writeFileSync(path, JSON.stringify({ pid: process.pid }), { flag: 'wx' })
    return true
  } catch (error) {
    if (/** @type {NodeJS.ErrnoException} -- fs throws nothing else */ (error).code === 'EEXIST') return false
    throw error
  }
}

/**
 * Removes a lock whose holder is gone; says whether the way may be free. Two that wait can both find it stale, and the
 * slower one must not remove what the quicker one has taken since: only one clears at a time, and looks again before.
 * @param {string} path
 */
function clearStale(path) {
  const seen = look(path)
  if (seen === undefined) return true
  if (!isStale(seen)) return false
  const clearing = `${path}.clearing`
  if (!take(clearing)) {
    const other = look(clearing)
    if (other !== undefined && Date.now() - other.beatMs > clearingTakesMs) rmSync(clearing, { force: true })
    return false
  }
  const again = look(path)
  if (again !== undefined && isStale(again)) rmSync(path, { force: true })
  rmSync(clearing, { force: true })
  return true
}

/**
 * @param {string} path
 * @returns {{ readonly text: string, readonly beatMs: number } | undefined}
 */
function look(path) {
  try {
    return { text: readFileSync(path, 'utf8'), beatMs: statSync(path).mtimeMs }
  } catch {
    return undefined
  }
}

/** @param {{ readonly text: string, readonly beatMs: number }} seen */
function isStale({ text, beatMs }) {
  const age = Date.now() - beatMs
  if (text === '') return age > emptyAfterMs
  if (age > silentAfterMs || beatMs < Date.now() - uptime() * 1000) return true
  const holder = readHolder(text)
  return holder === undefined || (!isAlive(holder.pid) && !isAlive(holder.child))
}

/**
 * @param {string} text
 * @returns {Holder | undefined}
 */
function readHolder(text) {
  try {
    const read = JSON.parse(text)
    return typeof read?.pid === 'number' ? read : undefined
  } catch {
    return undefined
  }
}

/** @param {number | undefined} pid */
function isAlive(pid) {
  if (pid === undefined || pid === process.pid) return false
  try {
    process.kill(pid, 0)
    return true
  } catch (error) {
    return /** @type {NodeJS.ErrnoException} -- kill throws nothing else */ (error).code === 'EPERM'
  }
}
