/** The launcher's lock and its judgement of what is installed, on real folders and processes. */
import { spawn, spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, utimesSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { withLock } from '../launch/lock.mjs'
import { isInstalled } from '../launch/packages.mjs'
import { isWebBuilt } from '../launch/web.mjs'

let folder = ''
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'guardband-launch-'))
})
afterEach(() => rmSync(folder, { recursive: true }))

/** A process number that was in use a moment ago and is free now. */
function endedPid(): number {
  return spawnSync(process.execPath, ['-e', '0']).pid
}

const quiet = () => {}

test('eight processes at once hold the lock one after the other', async () => {
  const log = join(folder, 'log')
  const lockModule = fileURLToPath(new URL('../launch/lock.mjs', import.meta.url))
  const program = `
    import { withLock } from ${JSON.stringify(lockModule)}
    import { appendFileSync } from 'node:fs'
    import { setTimeout } from 'node:timers/promises'
    await withLock(${JSON.stringify(join(folder, 'lock'))}, () => {}, async () => {
      appendFileSync(${JSON.stringify(log)}, 'in ')
      await setTimeout(20)
      appendFileSync(${JSON.stringify(log)}, 'out ')
    })`
  // A dead holder's lock lies there at the start, so that all of them try to clear it.
  writeFileSync(join(folder, 'lock'), JSON.stringify({ pid: endedPid() }))
  await Promise.all(
    Array.from({ length: 8 }, () => {
      const child = spawn(process.execPath, ['--input-type=module', '-e', program])
      return new Promise((resolve) => child.on('close', resolve))
    }),
  )
  expect(readFileSync(log, 'utf8')).toBe('in out '.repeat(8))
  expect(existsSync(join(folder, 'lock'))).toBe(false)
})

test('the lock of a dead launcher stays taken while its installer still writes', async () => {
  const installer = spawn(process.execPath, ['-e', 'setTimeout(() => {}, 60000)'])
  const lock = join(folder, 'lock')
  writeFileSync(lock, JSON.stringify({ pid: endedPid(), child: installer.pid }))
  let ended = false
  installer.on('close', () => (ended = true))
  const lines: string[] = []
  const waiting = withLock(lock, (line) => {
    lines.push(line)
    installer.kill()
  }, async () => ended)
  expect(await waiting).toBe(true)
  expect(lines).toHaveLength(1)
})

test.each([
  { what: 'names a process that is gone', text: () => JSON.stringify({ pid: endedPid() }), minutesOld: 0 },
  { what: 'was left by an earlier process with our own number', text: () => JSON.stringify({ pid: process.pid }), minutesOld: 0 },
  { what: 'has had no beat for long, its number used by another now', text: () => JSON.stringify({ pid: process.ppid }), minutesOld: 10 },
  { what: 'is empty and old', text: () => '', minutesOld: 1 },
  { what: 'holds something unreadable', text: () => '{', minutesOld: 0 },
])('a lock that $what is cleared', async ({ text, minutesOld }) => {
  const lock = join(folder, 'lock')
  writeFileSync(lock, text())
  const then = new Date(Date.now() - minutesOld * 60_000)
  utimesSync(lock, then, then)
  expect(await withLock(lock, quiet, async () => 'done')).toBe('done')
})

test('the lock is given back when the work fails', async () => {
  const lock = join(folder, 'lock')
  await expect(withLock(lock, quiet, () => Promise.reject(new Error('no')))).rejects.toThrow('no')
  expect(existsSync(lock)).toBe(false)
})

const wanted = {
  '': { name: 'tree' },
  model: { version: '0.1.0' },
  'node_modules/a': { version: '1.0.0', integrity: 'sha512-a' },
  'node_modules/a-otherplace': { version: '1.0.0', integrity: 'sha512-o', optional: true },
  'node_modules/@guardband/model': { resolved: 'model', link: true },
}
const { 'node_modules/a-otherplace': _other, '': _root, ...recorded } = wanted

function install(lock: object, record: object | undefined): boolean {
  writeFileSync(join(folder, 'package-lock.json'), JSON.stringify({ packages: lock }))
  if (record !== undefined) {
    mkdirSync(join(folder, 'node_modules'), { recursive: true })
    writeFileSync(join(folder, 'node_modules', '.package-lock.json'), JSON.stringify({ packages: record }))
  }
  return isInstalled(folder)
}

test('a finished install without the packages of other machines counts as installed', () => {
  expect(install(wanted, recorded)).toBe(true)
})

test.each([
  { what: 'no node_modules', record: undefined },
  { what: 'a package missing', record: { ...recorded, 'node_modules/a': undefined } },
  { what: 'another version', record: { ...recorded, 'node_modules/a': { version: '1.0.1', integrity: 'sha512-a' } } },
  { what: 'other bytes', record: { ...recorded, 'node_modules/a': { version: '1.0.0', integrity: 'sha512-b' } } },
  { what: 'a package nobody wants any more', record: { ...recorded, 'node_modules/b': { version: '1.0.0' } } },
])('an install with $what counts as stale', ({ record }) => {
  expect(install(wanted, record)).toBe(false)
})

test('a lock file that changed after the install makes it stale', () => {
  expect(install(wanted, recorded)).toBe(true)
  expect(install({ ...wanted, 'node_modules/c': { version: '1.0.0', integrity: 'sha512-c' } }, recorded)).toBe(false)
})

test('a page without a finished build is stale, and a tree without a page needs none', () => {
  writeFileSync(join(folder, 'package-lock.json'), '{}')
  expect(isWebBuilt(folder)).toBe(true)
  mkdirSync(join(folder, 'web', 'dist'), { recursive: true })
  writeFileSync(join(folder, 'web', 'index.html'), '')
  writeFileSync(join(folder, 'web', 'dist', 'index.html'), '')
  expect(isWebBuilt(folder)).toBe(false)
})
