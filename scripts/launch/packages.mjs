/** Says whether node_modules agrees with package-lock.json, and installs it where it does not. */
import { createHash } from 'node:crypto'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { runNpm } from './npm.mjs'

/**
 * True when the stamp left by the last install names the present lock file. Where a developer installed by hand
 * there is no such stamp; npm's own record of what it installed then decides.
 * @param {string} root
 */
export function isInstalled(root) {
  const stamp = stampOf(root)
  const stampPath = join(root, 'node_modules', '.guardband-stamp')
  if (readText(stampPath) === stamp) return true
  if (!agreesWithRecord(root)) return false
  writeFileSync(stampPath, stamp)
  return true
}

/**
 * @param {{ readonly root: string, readonly say: (line: string) => void, readonly lock: import('./lock.mjs').Lock,
 *   readonly runtime: import('./runtime.mjs').Runtime }} request
 */
export async function installPackages({ root, say, lock, runtime }) {
  say('Installing packages from the npm registry ...')
  await runNpm({
    node: runtime.node,
    env: runtime.env,
    args: ['ci'],
    cwd: root,
    task: 'Installing packages',
    mend: 'Check the connection to the npm registry, then run the same command again.',
    lock,
  })
  writeFileSync(join(root, 'node_modules', '.guardband-stamp'), stampOf(root))
}

/**
 * The kind of machine is part of it: a folder carried to another one holds the wrong binaries.
 * @param {string} root
 */
function stampOf(root) {
  const lock = readFileSync(join(root, 'package-lock.json'))
  return `${createHash('sha256').update(lock).digest('hex')} ${process.platform}-${process.arch}\n`
}

/**
 * npm writes node_modules/.package-lock.json at the very end of an install, so a cut-off one has none.
 * Optional packages of other machines are missing from it by right.
 * @param {string} root
 */
function agreesWithRecord(root) {
  const wanted = packagesIn(join(root, 'package-lock.json'))
  const record = packagesIn(join(root, 'node_modules', '.package-lock.json'))
  if (wanted === undefined || record === undefined) return false
  const complete = Object.entries(wanted).every(
    ([path, { version, optional, integrity, link }]) =>
      path === '' || (record[path] === undefined ? optional === true : link === true || same(record[path], { version, integrity })),
  )
  return complete && Object.keys(record).every((path) => wanted[path] !== undefined)
}

/** @typedef {{ readonly version?: string, readonly optional?: boolean, readonly integrity?: string, readonly link?: boolean }} Entry */

/**
 * @param {Entry} one
 * @param {Entry} other
 */
function same(one, other) {
  return one.version === other.version && one.integrity === other.integrity
}

/**
 * @param {string} path
 * @returns {Readonly<Record<string, Entry>> | undefined}
 */
function packagesIn(path) {
  const text = readText(path)
  try {
    return text === undefined ? undefined : JSON.parse(text).packages
  } catch {
    return undefined
  }
}

/** @param {string} path */
function readText(path) {
  try {
    return readFileSync(path, 'utf8')
  } catch {
    return undefined
  }
}
