// Whoever wants a rig to run what nobody approved: files swapped, plans and approvals tampered with, hostile plans. Nothing unapproved runs, and each is told by its sentence.
import { chmodSync, chownSync, copyFileSync, existsSync, mkdirSync, readFileSync, readdirSync, renameSync, rmSync, statSync, symlinkSync, truncateSync, utimesSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { ROUTES, SpokenError } from '@guardband/model'
import { LIVE_ROUTES, PHONE_LIVE_ROUTES } from '@guardband/model/api/live'
import { SYNC_ROUTES } from '@guardband/model/api/sync'
import { PHONE_ROUTES } from '@guardband/model/api/phone'
import { DEVICE_ROUTES } from '@guardband/model/api/devices'
import { expect, onTestFinished, test, vi } from 'vitest'
import { EXIT, approve, run } from '../commands.ts'
import { createFileHasher } from '../file-hash.ts'
import { SCORE, planJson, quietTerminal, temporaryFolder, tune } from './kit.ts'

const TREE = dirname(dirname(dirname(fileURLToPath(import.meta.url))))

test('what was approved runs, all of it', async () => {
  const bench = await approvedBench()
  expect(await bench.run()).toEqual({ status: EXIT.well, told: expect.stringContaining('finished') })
  expect(bench.ran()).toBe(2)
  expect(bench.evil()).toBe(false)
})

type Attack = (folder: string) => void

const SWAPS: readonly (readonly [string, Attack, string])[] = [
  ['the program, by one of its size and times', (folder) => swapInPlace(join(folder, 'tool')), 'the program file'],
  ['the program, by another file of its name', (folder) => {
    writeEvil(join(folder, 'other'))
    renameSync(join(folder, 'other'), join(folder, 'tool'))
  }, 'the program file'],
  ['the program, by a link', (folder) => {
    writeEvil(join(folder, 'other'))
    rmSync(join(folder, 'tool'))
    symlinkSync('other', join(folder, 'tool'))
  }, 'the program is'],
  ['what a script\'s first line names', (folder) => writeEvil(join(folder, 'shell')), 'what runs the script'],
  ['a file among the arguments', (folder) => writeFileSync(join(folder, 'data'), 'other'), 'the argument file'],
  ['a file among the arguments, by a link to one that holds the same', (folder) => {
    renameSync(join(folder, 'data'), join(folder, 'data-2'))
    writeFileSync(join(folder, 'data-2'), 'evil')
    symlinkSync('data-2', join(folder, 'data'))
  }, 'the argument file'],
  ['a file stuck to an option', (folder) => writeFileSync(join(folder, 'include'), 'other'), 'the argument file'],
  ['a file behind "@"', (folder) => writeFileSync(join(folder, 'list'), 'other'), 'the argument file'],
  ['a script that is named without its ending', (folder) => writeFileSync(join(folder, 'part.js'), 'other'), 'the argument file'],
  ['a library that the environment names', (folder) => writeFileSync(join(folder, 'library'), 'other'), 'the argument file'],
  ['the working folder, by a link elsewhere', (folder) => {
    renameSync(join(folder, 'work'), join(folder, 'elsewhere'))
    symlinkSync('elsewhere', join(folder, 'work'))
  }, 'the working folder is'],
]

test.each(SWAPS)('swapped after the approval, nothing of the plan begins: %s', async (_, attack, sentence) => {
  const bench = await approvedBench()
  attack(bench.folder)
  const refused = await bench.refusal()
  expect(refused).toContain(sentence)
  expect(refused).toContain('approve the plan again')
  expect({ ran: bench.ran(), evil: bench.evil(), journals: existsSync(join(bench.folder, 'rig', 'journals')) }).toEqual({ ran: 0, evil: false, journals: false })
})

test.each(SWAPS)('swapped between two runs, the second does not begin: %s', async (_, attack, sentence) => {
  const bench = await approvedBench()
  const { status, told } = await bench.run((line) => {
    if (line.includes('b1.t1.w1.r1')) attack(bench.folder)
  })
  expect(status).toBe(EXIT.notApproved)
  expect(told).toContain(sentence)
  expect({ ran: bench.ran(), evil: bench.evil() }).toEqual({ ran: 1, evil: false })
})

test('a program of the same name, put earlier in the PATH that was approved, is another program', async () => {
  const bench = await approvedBench({ run: ['named', 'data'] })
  writeEvil(join(bench.folder, 'first', 'named'))
  expect(await bench.refusal()).toContain(`the program is ${join(bench.folder, 'first', 'named')}`)
  expect({ ran: bench.ran(), evil: bench.evil() }).toEqual({ ran: 0, evil: false })
})

test('another PATH in the shell changes nothing: the one approved is searched, and handed on', async () => {
  const bench = await approvedBench({ run: ['named', 'data'] })
  mkdirSync(join(bench.folder, 'evil-first'))
  for (const name of ['named', 'sh', 'cat']) writeEvil(join(bench.folder, 'evil-first', name))
  vi.stubEnv('PATH', `${join(bench.folder, 'evil-first')}:${process.env['PATH'] ?? ''}`)
  expect((await bench.run()).status).toBe(EXIT.well)
  expect({ ran: bench.ran(), evil: bench.evil() }).toEqual({ ran: 2, evil: false })
})

test.each<[string, Readonly<Record<string, unknown>>, string]>([
  ['an argument', { run: ['./tool', 'data', '--more'] }, 'has not been approved'],
  ['an argument file that may change from now on', { mayChange: ['data'] }, 'the files that may change'],
  ['the environment', { environment: { LIBRARY: './library', PRELOAD: './evil' } }, 'the environment variable PRELOAD has changed'],
  ['the working folder', { folder: 'elsewhere' }, 'the working folder is'],
])('a plan that was changed after its approval is another plan: %s', async (_, change, sentence) => {
  const bench = await approvedBench()
  mkdirSync(join(bench.folder, 'elsewhere'))
  for (const name of ['tool', 'data', 'include', 'list', 'part.js', 'library']) copyFileSync(join(bench.folder, name), join(bench.folder, 'elsewhere', name))
  bench.write(change)
  expect(await bench.refusal()).toContain(sentence)
  expect({ ran: bench.ran(), evil: bench.evil() }).toEqual({ ran: 0, evil: false })
})

test.each<[string, (path: string) => void, string]>([
  ['that others may write', (path) => chmodSync(path, 0o666), 'others than its owner may write to this file'],
  ['in a folder that others may write', (path) => chmodSync(dirname(path), 0o777), 'others than its owner may write to the folder of this file'],
  ['that is torn', (path) => truncateSync(path, statSync(path).size - 7), 'damaged, was changed by hand'],
  ['that is empty', (path) => truncateSync(path, 0), 'damaged, was changed by hand'],
  ['that was edited to let another program run', (path) => {
    const folder = join(dirname(path), '..', '..')
    const before = createFileHasher()(join(folder, 'tool'))
    writeEvil(join(folder, 'tool'))
    writeFileSync(path, readFileSync(path, 'utf8').replaceAll(before, createFileHasher()(join(folder, 'tool'))))
  }, 'damaged, was changed by hand'],
  ['that is huge', (path) => truncateSync(path, 64 * 1024 * 1024), 'this file has 64 MB'],
  ['that is a folder', (path) => {
    rmSync(path)
    mkdirSync(path)
  }, 'this is no file'],
  ['that holds something else', (path) => writeFileSync(path, '{"version": 1, "approvals": [{"commands": [null], "code": "00000000"}]}'), 'damaged, was changed by hand'],
])('a file of approvals %s approves nothing', async (_, tamper, sentence) => {
  const bench = await approvedBench()
  tamper(bench.approvals)
  const refused = await bench.refusal()
  expect(refused).toContain(bench.approvals)
  expect(refused).toContain(sentence)
  expect({ ran: bench.ran(), evil: bench.evil() }).toEqual({ ran: 0, evil: false })
})

test.skipIf(process.getuid?.() !== 0)('a file of approvals that belongs to another user approves nothing', async () => {
  const bench = await approvedBench()
  chownSync(bench.approvals, 12_345, 12_345)
  expect(await bench.refusal()).toContain('belongs to another user (12345)')
})

test.each<[string, (path: string) => void, string]>([
  ['of 50 MB', (path) => truncateSync(path, 50_000_000), 'a plan has at most 16 MB; this has 48.'],
  ['nested without end', (path) => writeFileSync(path, '['.repeat(5_000_000)), 'brackets may be 100 deep at most'],
  ['with a key twice', (path) => writeFileSync(path, '{"schema": 1, "tunes": [{"name": "a", "apply": {"run": ["true"], "run": ["./evil"]}}]}'), 'the key "run" comes twice'],
  ['with a key that objects have by themselves', (path) => writeFileSync(path, readFileSync(path, 'utf8').replace('{', '{"__proto__": {"run": ["./evil"]}, ')), '__proto__'],
  ['with raw control characters', (path) => writeFileSync(path, readFileSync(path, 'utf8').replace('Narrow', 'Nar\u001brow')), 'this text in quotes is not closed on its line'],
  ['that is no text', (path) => writeFileSync(path, Buffer.from([0xff, 0xfe, 0x00, 0x80, 0x7b])), 'this is no JSON'],
])('a plan %s is refused before anything is looked at, by run as by approve', async (_, spoil, sentence) => {
  const bench = await approvedBench()
  spoil(join(bench.folder, 'plan.json'))
  expect(await bench.refusal()).toContain(sentence)
  await expect(approve({ planFile: join(bench.folder, 'plan.json'), code: '0' }, quietTerminal([]))).rejects.toThrow(SpokenError)
  expect({ ran: bench.ran(), evil: bench.evil() }).toEqual({ ran: 0, evil: false })
})

test('there is no route for an approval, and nothing that speaks to another machine can make one', () => {
  const routes = [ROUTES, LIVE_ROUTES, PHONE_LIVE_ROUTES, SYNC_ROUTES, PHONE_ROUTES, DEVICE_ROUTES].flatMap((table) => Object.entries(table).map(([name, { method, path }]) => `${name} ${method} ${path}`))
  expect(routes.length).toBeGreaterThan(20)
  expect(routes.filter((route) => /approv/i.test(route))).toEqual([])
  const callers = ['hub', 'link', 'lab', 'web', 'rig', 'cli'].flatMap(sourcesBelow).filter((file) => /\baddApproval\(|commands\/approve/.test(readFileSync(join(TREE, file), 'utf8')))
  expect(callers.toSorted()).toEqual(['rig/approval-store.ts', 'rig/commands.ts', 'rig/commands/approve.ts', 'rig/verbs.ts'])
})

interface HostileBench {
  readonly folder: string
  /** Its path. */
  readonly approvals: string
  readonly run: (onLine?: (line: string) => void) => Promise<{ readonly status: number; readonly told: string }>
  /** The sentence by which it doesn't begin. */
  readonly refusal: () => Promise<string>
  /** Writes the plan with another command, and approves nothing. */
  readonly write: (command: Readonly<Record<string, unknown>>) => void
  /** How often the approved program ran. */
  readonly ran: () => number
  readonly evil: () => boolean
}

/** A plan of two runs whose program is a script with an interpreter of its own, approved on this machine by a user of the test's own. */
async function approvedBench(more: Readonly<Record<string, unknown>> = {}): Promise<HostileBench> {
  const folder = temporaryFolder()
  const config = join(folder, 'config')
  onTestFinished(() => void vi.unstubAllEnvs())
  vi.stubEnv('XDG_CONFIG_HOME', config)
  for (const name of ['work', 'first', 'bin']) mkdirSync(join(folder, name))
  vi.stubEnv('PATH', `${join(folder, 'first')}:${join(folder, 'bin')}:${process.env['PATH'] ?? ''}`)
  copyFileSync('/bin/sh', join(folder, 'shell'))
  const script = `#!${join(folder, 'shell')}\necho ran >> ${join(folder, 'ran')}\necho score: 1\n${'# '.padEnd(200, '.')}\n`
  for (const name of ['tool', 'bin/named']) writeFileSync(join(folder, name), script)
  for (const name of ['shell', 'tool', 'bin/named']) chmodSync(join(folder, name), 0o755)
  for (const name of ['data', 'include', 'list', 'part.js', 'library']) writeFileSync(join(folder, name), name)
  const planFile = join(folder, 'plan.json')
  const command = { run: ['../tool', '../data', '-I../include', '@../list', '../part'], folder: 'work', environment: { LIBRARY: '../library' }, ...more }
  const write = (change: Readonly<Record<string, unknown>>) => writeFileSync(planFile, JSON.stringify(planJson({ tunes: [tune('narrow', 1)], workloads: [{ name: 'photo stack', command: { ...command, ...change }, measures: [SCORE] }], design: { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 1, repeats: 2 } })))
  write({})
  const listed: string[] = []
  await approve({ planFile }, quietTerminal(listed))
  await approve({ planFile, code: /--code ([0-9a-f-]{19})/.exec(listed.join('\n'))?.[1] ?? '' }, quietTerminal([]))
  const carryOut: HostileBench['run'] = async (onLine = () => {}) => {
    const said: string[] = []
    const terminal = quietTerminal(said)
    const status = await run({ planFile, folder: join(folder, 'rig'), asRoot: true, company: 'alone', signal: new AbortController().signal }, { ...terminal, say: (line) => {
      said.push(line)
      onLine(line)
    } })
    return { status, told: said.join('\n') }
  }
  return {
    folder,
    approvals: join(config, 'guardband', 'approvals.json'),
    run: carryOut,
    refusal: async () => {
      try {
        await carryOut()
      } catch (cause) {
        if (cause instanceof SpokenError) return cause.sentence
        throw cause
      }
      throw new Error('a refusal was expected; got none')
    },
    write,
    ran: () => (existsSync(join(folder, 'ran')) ? readFileSync(join(folder, 'ran'), 'utf8').split('\n').length - 1 : 0),
    evil: () => existsSync(join(folder, 'evil')) || existsSync(join(folder, 'first', 'evil')) || existsSync(join(folder, 'evil-first', 'evil')),
  }
}

/** Leaves a file beside itself when it runs. */
function evilScript(path: string): string {
  return `#!/bin/sh\ntouch ${join(dirname(path), 'evil')}\necho score: 1\n`
}

function writeEvil(path: string): void {
  writeFileSync(path, evilScript(path))
  chmodSync(path, 0o755)
}

function swapInPlace(path: string): void {
  const { size, atime, mtime } = statSync(path)
  const evil = evilScript(path)
  writeFileSync(path, evil.padEnd(size, '#'))
  utimesSync(path, atime, mtime)
  expect({ size: statSync(path).size, mtime: statSync(path).mtimeMs }).toEqual({ size, mtime: mtime.getTime() })
}

function sourcesBelow(folder: string): readonly string[] {
  return readdirSync(join(TREE, folder), { recursive: true, encoding: 'utf8' })
    .filter((file) => /\.tsx?$/.test(file) && !/(?:^|\/)(?:node_modules|test|dist)\//.test(file))
    .map((file) => `${folder}/${file}`)
}
