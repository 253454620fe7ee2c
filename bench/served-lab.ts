// Serves a workspace by the very command that people type, and a browser to look at it with.
import { cpSync, mkdtempSync, rmSync, symlinkSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { spawn } from 'node:child_process'
import { chromium, type Browser } from 'playwright-core'
import { chromiumFlags, findChromium } from './chromium.ts'

export const TREE = dirname(import.meta.dirname)

export interface Served {
  /** With the one-time token. */
  readonly url: string
  readonly stop: () => Promise<void>
}

/** `npm start`'s own command on a folder; resolves once the address is on the terminal. */
export function serveLab(folder: string): Promise<Served> {
  return startIn(TREE, [folder])
}

/** A second tree in `folder`, on the packages that are installed in this one; it has no demo workspace yet. */
export function makeFreshTree(folder: string): void {
  for (const path of ['launch.mjs', 'package.json', 'package-lock.json', 'cli', join('scripts', 'launch'), join('web', 'dist')]) cpSync(join(TREE, path), join(folder, path), { recursive: true })
  symlinkSync(join(TREE, 'node_modules'), join(folder, 'node_modules'), 'junction')
}

/** `npm start` in such a tree, as it is typed first. */
export function serveFreshTree(folder: string): Promise<Served> {
  return startIn(folder, [])
}

function startIn(tree: string, args: readonly string[]): Promise<Served> {
  const child = spawn(process.execPath, [join(tree, 'launch.mjs'), 'start', ...args, '--no-open'], { cwd: tree, env: { ...process.env, PORT: '0' }, stdio: ['ignore', 'pipe', 'pipe'] })
  const ended = new Promise<void>((resolve) => child.once('close', () => resolve()))
  // An interrupted bench leaves no hub behind.
  const interrupted = () => {
    child.kill()
    process.exit(INTERRUPTED)
  }
  for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, interrupted)
  child.once('close', () => {
    for (const signal of ['SIGINT', 'SIGTERM'] as const) process.off(signal, interrupted)
  })
  return new Promise((resolve, reject) => {
    let said = ''
    const listen = (part: unknown) => {
      said += String(part)
      const found = /(http:\/\/127\.0\.0\.1:\d+\/\S+)\n/.exec(said)
      if (found === null) return
      resolve({
        url: found[1],
        stop: () => {
          child.kill()
          return ended
        },
      })
    }
    child.stdout.on('data', listen)
    child.stderr.on('data', listen)
    void ended.then(() => reject(new Error(`The hub ended before it said an address. It said:\n${said}`)))
  })
}

/** As a shell reports a program ended by SIGINT. */
const INTERRUPTED = 130

/** Runs `work` with a fresh browser and a temporary folder, and clears both away. Throws a sentence where there is no Chromium. */
export async function withBrowser<Result>(work: (browser: Browser, folder: string) => Promise<Result>): Promise<Result> {
  const executablePath = findChromium(process.env)
  if (executablePath === undefined) throw new Error('This bench needs Chromium: install it, or set CHROMIUM to its path.')
  const folder = mkdtempSync(join(tmpdir(), 'guardband-bench-'))
  const browser = await chromium.launch({ executablePath, args: [...chromiumFlags], env: { ...process.env, HOME: folder } })
  try {
    return await work(browser, folder)
  } finally {
    await browser.close()
    rmSync(folder, { recursive: true, force: true })
  }
}
