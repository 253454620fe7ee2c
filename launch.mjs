/**
 * Starts anything in this tree on a machine that has only git and Node 20 or newer: fetches a newer
 * Node where needed, installs what is missing, builds what is stale, then runs what was asked.
 * Needs no dependency, as it runs before any is installed. Its own words go to stderr, so that
 * what the command prints stays clean.
 */
import { realpathSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { runChild } from './scripts/launch/child.mjs'
import { installPackages, isInstalled } from './scripts/launch/packages.mjs'
import { withLock } from './scripts/launch/lock.mjs'
import { fetchRuntime, findRuntime } from './scripts/launch/runtime.mjs'
import { buildWeb, isWebBuilt } from './scripts/launch/web.mjs'

const root = dirname(fileURLToPath(import.meta.url))

/**
 * What each verb runs. `web` says whether the page must be built before.
 * @type {Readonly<Record<string, { readonly file: string, readonly first: readonly string[],
 *   readonly web: (args: readonly string[]) => boolean }>>}
 */
const verbs = {
  start: { file: 'cli/main.ts', first: ['start'], web: () => true },
  run: { file: 'cli/main.ts', first: [], web: (args) => args[0] === 'start' },
  // The page is one of the checks there, so that a page that can't be built doesn't hide everything else.
  test: { file: 'scripts/test-all.ts', first: [], web: () => false },
  check: { file: 'scripts/check.ts', first: [], web: () => false },
  bench: { file: 'bench/run.ts', first: [], web: () => true },
  shots: { file: 'scripts/shots.ts', first: [], web: () => true },
}

/**
 * Makes the tree ready and runs a verb; resolves to the exit code.
 * @param {string | undefined} verb one of start, run, test, check, bench, shots
 * @param {readonly string[]} args handed on untouched; the working folder is the caller's
 * @returns {Promise<number>}
 */
export async function launch(verb, args) {
  const wanted = verb !== undefined && Object.hasOwn(verbs, verb) ? verbs[verb] : undefined
  if (wanted === undefined) {
    say(`command must be one of ${Object.keys(verbs).join(', ')}; got ${verb ?? 'nothing'}`)
    return 2
  }
  const needs = { root, web: wanted.web(args), say }
  try {
    if (!isReady(needs)) await withLock(join(root, '.runtime', 'lock'), say, (lock) => makeReady(needs, lock))
    const runtime = findRuntime(root)
    if (runtime === undefined) throw new Error('no Node 24 or newer was found after fetching it')
    const ended = await runChild({
      file: runtime.node,
      // Node 24 releases before type stripping settled print a warning for each process.
      args: ['--disable-warning=ExperimentalWarning', join(root, wanted.file), ...wanted.first, ...args],
      env: runtime.env,
      stdio: 'inherit',
    })
    return ended.code
  } catch (error) {
    say(error instanceof Error ? error.message : String(error))
    return error instanceof Error && 'exitCode' in error ? Number(error.exitCode) : 1
  }
}

/** @typedef {{ readonly root: string, readonly web: boolean, readonly say: (line: string) => void }} Needs */

/** @param {Needs} needs */
function isReady({ root, web }) {
  return findRuntime(root) !== undefined && isInstalled(root) && (!web || isWebBuilt(root))
}

/**
 * Each step looks again, as whoever held the lock before may have done it already.
 * @param {Needs} needs
 * @param {import('./scripts/launch/lock.mjs').Lock} lock
 */
async function makeReady({ root, web, say }, lock) {
  const runtime = findRuntime(root) ?? (await fetchRuntime({ root, say, lock }))
  if (!isInstalled(root)) await installPackages({ root, say, lock, runtime })
  if (web && !isWebBuilt(root)) await buildWeb({ root, say, lock, runtime })
}

/** @param {string} line */
function say(line) {
  process.stderr.write(`${line}\n`)
}

if (process.argv[1] !== undefined && realpathSync(process.argv[1]) === fileURLToPath(import.meta.url)) {
  process.exitCode = await launch(process.argv[2], process.argv.slice(3))
}
