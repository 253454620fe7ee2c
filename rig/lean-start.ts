// Starts a rig's long work afresh in as little memory as it can do with: types are taken out of its code beforehand, so that nothing of that tool stays loaded.
import { mkdtempSync, readFileSync, realpathSync, writeFileSync } from 'node:fs'
import { createRequire, stripTypeScriptTypes } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath, pathToFileURL } from 'node:url'

/**
 * Replaces this process by `node rig/main.ts ...args`, same number, same terminal, and doesn't return; returns where that can't be done (Windows), or has been
 * done. What the machine under test compiled is not kept: with bad memory it must not outlive the run, so the texts lie in a folder of this user's own until they
 * are read, and are gone then.
 */
export function startLean(args: readonly string[]): void {
  if (process.platform === 'win32' || process.execve === undefined || isLean()) return
  // Both calls below warn that they are new; a person at a rig can do nothing with that.
  process.removeAllListeners('warning')
  const main = join(import.meta.dirname, 'main.ts')
  const texts = join(mkdtempSync(join(tmpdir(), 'guardband-lean-')), 'texts.json')
  writeFileSync(texts, JSON.stringify(textsOf([main, join(import.meta.dirname, 'verbs.ts'), join(import.meta.dirname, 'commands', 'run.ts')])), { mode: 0o600 })
  const hook = new URL(HOOK, import.meta.url)
  hook.searchParams.set('texts', texts)
  process.execve(process.execPath, [process.execPath, ...LITTLE_MEMORY, `--import=${hook.href}`, main, ...args], { ...process.env, ...ONE_ARENA })
}

function isLean(): boolean {
  return process.execArgv.some((flag) => flag.startsWith('--import=') && flag.includes(HOOK))
}

const HOOK = 'lean-hook.mjs'

/**
 * One MB for young objects (of 16, much is filled before anything is collected), functions compiled when they are called, and of the two optimising compilers the quick one: what a
 * rig does takes milliseconds a step. Together about 10 MB.
 */
const LITTLE_MEMORY = ['--max-semi-space-size=1', '--max-lazy', '--no-opt', '--optimize-for-size', '--v8-pool-size=0']

/** Of the C library: without it each thread keeps memory of its own ready, 4 MB in all (mallopt(3)). What the rig runs gets none of its environment. */
const ONE_ARENA = { MALLOC_ARENA_MAX: '1' } as const

/** Every file of ours that these import, by address, without its types. */
function textsOf(files: readonly string[]): Readonly<Record<string, string>> {
  const texts: Record<string, string> = {}
  const waiting = files.map((file) => realpathSync(file))
  for (let file = waiting.pop(); file !== undefined; file = waiting.pop()) {
    const url = pathToFileURL(file).href
    if (url in texts) continue
    texts[url] = stripTypeScriptTypes(readFileSync(file, 'utf8'))
    // What a verb loads when it is called is not loaded for another one.
    const imports = file.endsWith('verbs.ts') ? STATIC_IMPORT : ANY_IMPORT
    for (const [, name] of texts[url].matchAll(imports)) waiting.push(...oursOf(name, url))
  }
  return texts
}

const STATIC_IMPORT = /\bfrom\s+'([^']+)'/g
const ANY_IMPORT = /\b(?:from\s+|import\s*\(\s*)'([^']+)'/g

function oursOf(name: string, from: string): readonly string[] {
  if (name.startsWith('.')) return [fileURLToPath(new URL(name, from))].filter(isSource)
  if (!name.startsWith('@guardband/')) return []
  try {
    return [createRequire(from).resolve(name)].filter(isSource)
  } catch {
    // Not copied along: whoever loads it says so.
    return []
  }
}

function isSource(path: string): boolean {
  return path.endsWith('.ts')
}
