/** Says whether the built page is younger than everything it is made from, and builds it where it is not. */
import { createHash } from 'node:crypto'
import { existsSync, mkdirSync, readFileSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { runChild, Stopped } from './child.mjs'

/** Everything that can end up in the page; the import-edge check keeps other packages out of it. */
const sources = ['web', 'questions', 'engine', 'model', 'workings']
const notSources = new Set(['dist', 'node_modules', 'test', '.vite'])

/**
 * @param {string} root
 */
export function isWebBuilt(root) {
  if (!existsSync(join(root, 'web', 'index.html'))) return true
  return existsSync(join(root, 'web', 'dist', 'index.html')) && readStamp(root) === stampOf(root)
}

/**
 * @param {{ readonly root: string, readonly say: (line: string) => void, readonly lock: import('./lock.mjs').Lock,
 *   readonly runtime: import('./runtime.mjs').Runtime }} request
 */
export async function buildWeb({ root, say, lock, runtime }) {
  say('Building the page ...')
  const stamp = stampOf(root)
  // A build that is cut off half-way must not pass for the last one that went well.
  rmSync(stampPath(root), { force: true })
  const ended = await runChild({
    file: runtime.node,
    args: [join(root, 'node_modules', 'vite', 'bin', 'vite.js'), 'build', '--logLevel', 'warn'],
    env: runtime.env,
    cwd: join(root, 'web'),
    stdio: 'captured',
    onSpawn: lock.noteChild,
  })
  if (ended.stopCode !== undefined) throw new Stopped(ended.stopCode)
  if (ended.code !== 0) throw new Error(`Building the page failed.\n${ended.output.trim()}`)
  mkdirSync(join(root, '.runtime'), { recursive: true })
  writeFileSync(stampPath(root), stamp)
}

/**
 * Names, sizes and times of all source files: a scan of a few milliseconds that also sees a file go.
 * @param {string} root
 */
function stampOf(root) {
  const hash = createHash('sha256').update(readFileSync(join(root, 'package-lock.json')))
  for (const folder of sources) addFolder(join(root, folder), hash)
  return hash.digest('hex')
}

/**
 * @param {string} folder
 * @param {import('node:crypto').Hash} hash
 */
function addFolder(folder, hash) {
  if (!existsSync(folder)) return
  const entries = readdirSync(folder, { withFileTypes: true }).toSorted((a, b) => (a.name < b.name ? -1 : 1))
  for (const entry of entries) {
    const path = join(folder, entry.name)
    if (entry.isDirectory()) {
      if (!notSources.has(entry.name)) addFolder(path, hash)
    } else if (!entry.name.endsWith('.md')) {
      const { mtimeMs, size } = statSync(path)
      hash.update(`${path}\n${mtimeMs} ${size}\n`)
    }
  }
}

/** @param {string} root */
function stampPath(root) {
  return join(root, '.runtime', 'web.stamp')
}

/** @param {string} root */
function readStamp(root) {
  try {
    return readFileSync(stampPath(root), 'utf8')
  } catch {
    return undefined
  }
}
