// The command driver and the readings over what it caught.
import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Reading } from '@guardband/model'
import { expect, onTestFinished, test } from 'vitest'
import { CAPTURE_LIMIT, runCommand, type CommandEnd } from '../command-driver.ts'
import { readPointer } from '../json-pointer.ts'
import { createPatternFinder } from '../pattern-finder.ts'
import { readNumber, readValue } from '../reading.ts'
import { temporaryFolder } from './kit.ts'

test('a command gets its own environment and nothing of the rig\'s', async () => {
  process.env['RIG_SECRET'] = 'told'
  onTestFinished(() => {
    delete process.env['RIG_SECRET']
  })
  const end = await sh('env | cut -d= -f1 | sort', { environment: { PATH: '/usr/bin:/bin', LEVEL: '2' } })
  // The shell itself sets PWD, OLDPWD and the like.
  expect(end.output.text.split('\n').filter((name) => !['', 'PWD', 'OLDPWD', 'SHLVL', '_'].includes(name))).toEqual(['LEVEL', 'PATH'])
})

test('a command hears nothing on its input and runs in its folder', async () => {
  const folder = temporaryFolder()
  mkdirSync(join(folder, 'sub'))
  const end = await sh('cat; pwd', { folder: join(folder, 'sub') })
  expect(end.output.text.trim()).toBe(join(folder, 'sub'))
})

test('of a flood of output the end is kept, and that something was cut is known', async () => {
  const end = await sh('head -c 3000000 /dev/zero | tr "\\0" x; echo; echo "score: 9"')
  expect(end.output.text).toHaveLength(CAPTURE_LIMIT)
  expect(end.output.text.endsWith('x\nscore: 9\n')).toBe(true)
  expect(end.output.cut).toBe(true)
  expect(Buffer.from(end.output.bytes).toString()).toBe(end.output.text)
  expect(end.errorOutput).toMatchObject({ text: '', cut: false })
})

test('a program that can not be started says why', async () => {
  const end = await runCommand({ executable: '/no/such/program', calledAs: 'x', args: [], folder: '/', environment: {}, timeLimitSeconds: 1 }, { monotonic: seconds, signal: new AbortController().signal })
  expect(end).toMatchObject({ how: 'not started', exitStatus: null })
  expect(end.message).toContain('ENOENT')
})

test('a command that ignores the request to end is killed', async () => {
  const end = await sh('trap "" TERM; while :; do sleep 0.05; done', { timeLimitSeconds: 0.2 })
  expect(end).toMatchObject({ how: 'time limit', exitStatus: null, signal: 'SIGKILL' })
})

test('a command whose stop was wished before it began is stopped', async () => {
  expect(await sh('sleep 30', { signal: AbortSignal.abort() })).toMatchObject({ how: 'stopped' })
})

test.each<[Reading, string | number]>([
  [{ in: 'output', pattern: '^score: (.+)$' }, 12.5],
  [{ in: 'error output', pattern: 'warm ([0-9]+)' }, 3],
  [{ in: 'output', pattern: '(-?\\d+e\\d+)' }, -2e3],
  [{ file: 'result.json', pointer: '/runs/1/score' }, 7],
  [{ file: 'result.json', pointer: '/as text' }, 8.25],
  [{ file: 'result.json', pattern: '"score": (\\d)' }, 6],
])('%j reads %s', async (reading, expected) => {
  const folder = temporaryFolder()
  writeFileSync(join(folder, 'result.json'), '{"runs": [{"score": 6}, {"score": 7}], "as text": " 8.25 "}')
  const end = await sh('echo first; echo "score: 12.5"; echo "x -2e3"; echo "warm 3" >&2')
  expect(await readNumber(reading, { folder, end, patterns: finder() })).toEqual({ kind: 'value', value: expected })
})

test.each<[Reading, string]>([
  [{ in: 'output', pattern: 'nothing (.)' }, 'the pattern nothing (.) was not found in the output'],
  [{ in: 'output', pointer: '/a' }, 'the output must be JSON for the pointer "/a"; got "score: 12.5"'],
  [{ file: 'result.json', pointer: '/b' }, 'there is nothing at "/b" in'],
  [{ file: 'result.json', pointer: '/list' }, 'a single value was expected at "/list"'],
  [{ file: 'result.json', pointer: '/word' }, 'a finite number was expected; got "fast".'],
  [{ file: 'absent.json', pointer: '/a' }, 'absent.json could not be read (ENOENT'],
])('%j finds no number: %s', async (reading, message) => {
  const folder = temporaryFolder()
  writeFileSync(join(folder, 'result.json'), '{"list": [1], "word": "fast"}')
  const end = await sh('echo "score: 12.5"')
  expect(await readNumber(reading, { folder, end, patterns: finder() })).toMatchObject({ kind: 'missing', message: expect.stringContaining(message) })
})

test('the wall time is the command\'s own', async () => {
  let now = 10
  const end = await sh(':', { monotonic: () => (now += 2.5) })
  expect(await readNumber({ elapsed: 'seconds' }, { folder: '/', end, patterns: finder() })).toEqual({ kind: 'value', value: 2.5 })
})

test('a pattern that would search for ages is given up, and the next one works', async () => {
  const patterns = finder()
  const end = await sh('echo "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa!"')
  expect(await readValue({ in: 'output', pattern: '^(a+)+$' }, { folder: '/', end, patterns })).toMatchObject({ kind: 'missing', message: expect.stringContaining('took longer than 2 s') })
  expect(await readValue({ in: 'output', pattern: '(!)' }, { folder: '/', end, patterns })).toEqual({ kind: 'value', text: '!' })
})

// The document and the values of RFC 6901, section 5.
test('pointers read what RFC 6901 says', () => {
  const document = { foo: ['bar', 'baz'], '': 0, 'a/b': 1, 'c%d': 2, 'e^f': 3, 'g|h': 4, 'i\\j': 5, 'k"l': 6, ' ': 7, 'm~n': 8 }
  const read = (pointer: string) => readPointer(document, pointer)
  expect(read('')).toBe(document)
  expect(['/foo', '/foo/0', '/', '/a~1b', '/c%d', '/e^f', '/g|h', '/i\\j', '/k"l', '/ ', '/m~0n'].map(read)).toEqual([['bar', 'baz'], 'bar', 0, 1, 2, 3, 4, 5, 6, 7, 8])
  expect(['/foo/01', '/foo/-', '/foo/2', '/nothing', '/toString', '/foo/length'].map(read)).toEqual([undefined, undefined, undefined, undefined, undefined, undefined])
})

interface Order {
  readonly folder?: string
  readonly environment?: Readonly<Record<string, string>>
  readonly timeLimitSeconds?: number
  readonly signal?: AbortSignal
  readonly monotonic?: () => number
}

function sh(script: string, { folder = '/', environment = { PATH: '/usr/bin:/bin' }, timeLimitSeconds = 20, signal = new AbortController().signal, monotonic = seconds }: Order = {}): Promise<CommandEnd> {
  return runCommand({ executable: '/bin/sh', calledAs: 'sh', args: ['-c', script], folder, environment, timeLimitSeconds }, { monotonic, signal })
}

function seconds(): number {
  return performance.now() / 1000
}

function finder() {
  const patterns = createPatternFinder()
  onTestFinished(() => patterns.close())
  return patterns
}
