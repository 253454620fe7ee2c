/** How npm is called: through its own script and a Node of our choice, quiet unless something fails. */
import { existsSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { runChild, Stopped } from './child.mjs'

/** Nothing in the tree needs an install script (prebuilt binaries come inside the packages), so none may run. */
const quiet = ['--ignore-scripts', '--no-audit', '--no-fund', '--no-update-notifier', '--loglevel=error', '--no-progress']

/**
 * @typedef {{ readonly node: string, readonly env: NodeJS.ProcessEnv, readonly args: readonly string[], readonly cwd: string,
 *   readonly task: string, readonly mend: string, readonly lock: import('./lock.mjs').Lock }} NpmRequest
 */

/**
 * Runs npm and throws with its own words where it fails.
 * @param {NpmRequest} request
 */
export async function runNpm({ node, env, args, cwd, task, mend, lock }) {
  const script = findNpmScript()
  const windowsNpm = process.platform === 'win32' ? 'npm.cmd' : 'npm'
  const ended = await runChild({
    file: script === undefined ? windowsNpm : node,
    args: [...(script === undefined ? [] : [script]), ...args, ...quiet],
    env: withoutCallersNpm(env),
    cwd,
    stdio: 'captured',
    onSpawn: lock.noteChild,
  })
  if (ended.stopCode !== undefined) throw new Stopped(ended.stopCode)
  if (ended.code !== 0) throw new Error(`${task} failed (npm ended with ${ended.code}).\n${ended.output.trim()}\n${mend}`)
}

/** npm tells what it starts where its script is; else it lies in a known place beside Node. */
function findNpmScript() {
  const told = process.env['npm_execpath']
  const beside = dirname(process.execPath)
  return [
    ...(told !== undefined && told.endsWith('npm-cli.js') ? [told] : []),
    join(beside, 'node_modules', 'npm', 'bin', 'npm-cli.js'),
    join(beside, '..', 'lib', 'node_modules', 'npm', 'bin', 'npm-cli.js'),
    join(beside, '..', 'share', 'nodejs', 'npm', 'bin', 'npm-cli.js'),
  ].find((path) => existsSync(path))
}

/**
 * A caller's npm hands its own folder and workspace on by environment; ours is the one we name.
 * @param {NodeJS.ProcessEnv} env
 */
function withoutCallersNpm(env) {
  const dropped = new Set(['npm_config_prefix', 'npm_config_local_prefix', 'npm_config_workspace', 'npm_config_loglevel', 'node_env'])
  return Object.fromEntries(Object.entries(env).filter(([name]) => !dropped.has(name.toLowerCase())))
}
