// A companion over its own line: what it keeps, what it refuses, what it writes down, and that a kill loses nothing of it.
import { spawn, type ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync, readdirSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, expect, test } from 'vitest'
import { pairRig, pinnedRequest } from '@guardband/link/pinned-client'
import { decodeJournal, type JournalBody, type LiveState } from '@guardband/model'
import { createPlaceClient, type PlaceClient } from '../sync/place-client.ts'
import { pushJournal } from '../sync/push.ts'
import { nodeDisk } from '../index.ts'
import { createBench, createSources, shell, temporaryFolder } from './kit.ts'

const MAIN = new URL('../main.ts', import.meta.url).pathname
const children: ChildProcess[] = []
afterEach(() => {
  for (const child of children.splice(0)) child.kill('SIGKILL')
})

const WATCH = { schema: 1, id: 'watch', rig: 'north bench', silenceSeconds: 30, actions: [{ name: 'power switch', command: shell('echo pressed >> switch'), waitSeconds: 5 }] }
const STATE: LiveState = { rig: 'north bench', plan: { id: 'p', title: 'p', hash: '0'.repeat(64) }, state: 'at work', message: null, step: null, done: 0, left: 1, minutesLeft: null, journal: null, ask: null, last: [] }

interface Running {
  readonly url: string
  readonly fingerprint: string
  readonly output: () => string
  readonly type: (line: string) => void
  readonly until: (wanted: RegExp) => Promise<RegExpExecArray>
  readonly kill: () => Promise<void>
}

async function approvedFolder(watch: object = WATCH): Promise<string> {
  const folder = temporaryFolder()
  writeFileSync(join(folder, 'watch.json'), JSON.stringify(watch))
  const listing = await told(folder, 'approve', 'watch.json')
  await told(folder, 'approve', 'watch.json', '--code', /--code (\S+)/.exec(listing)?.[1] ?? '')
  return folder
}

function environment(folder: string): NodeJS.ProcessEnv {
  return { PATH: process.env['PATH'], HOME: folder, XDG_CONFIG_HOME: join(folder, 'config') }
}

async function told(folder: string, ...args: readonly string[]): Promise<string> {
  const child = spawn(process.execPath, [MAIN, ...args], { cwd: folder, env: environment(folder), stdio: ['ignore', 'pipe', 'pipe'] })
  let output = ''
  for (const stream of [child.stdout, child.stderr]) stream.on('data', (bytes: Buffer) => (output += bytes.toString()))
  await once(child, 'close')
  return output
}

async function startCompanion(folder: string, port = 0): Promise<Running> {
  const child = spawn(process.execPath, [MAIN, 'companion', 'watch.json', '--listen', `127.0.0.1:${port}`, '--as-root'], { cwd: folder, env: environment(folder), stdio: ['pipe', 'pipe', 'pipe'] })
  children.push(child)
  let output = ''
  const watchers = new Set<() => void>()
  for (const stream of [child.stdout, child.stderr]) {
    stream.on('data', (bytes: Buffer) => {
      output += bytes.toString()
      for (const look of watchers) look()
    })
  }
  const until = (wanted: RegExp): Promise<RegExpExecArray> =>
    new Promise((resolve) => {
      const look = (): void => {
        const found = wanted.exec(output)
        if (found === null) return
        watchers.delete(look)
        resolve(found)
      }
      watchers.add(look)
      look()
    })
  const [, url] = await until(/listens on (https:\S+)/)
  const [, digits] = await until(/certificate ([0-9a-f ]+)\n/)
  await until(/Type "code"/)
  return {
    url, fingerprint: digits.replaceAll(' ', ''), output: () => output, until,
    type: (line) => void child.stdin.write(`${line}\n`),
    kill: async () => {
      child.kill('SIGKILL')
      await once(child, 'close')
    },
  }
}

async function letIn({ url, fingerprint, until }: Running, name = 'north bench'): Promise<PlaceClient> {
  const [, code] = await until(/--code (\S+)/)
  return createPlaceClient({ origin: url, fingerprint, name: 'companion', token: await pairRig({ url, fingerprint, code, name }) }, createSources('boot-1'))
}

function ownRecords(folder: string): readonly JournalBody[] {
  const journals = join(folder, 'companion-watch', 'journals')
  return readdirSync(journals).toSorted().flatMap((name) => decodeJournal(readFileSync(join(journals, name))).entries.map(({ body }) => body))
}

test('it holds a rig\'s journal byte for byte, tells what it saw of it, and notes what a person types', { timeout: 120_000 }, async () => {
  const folder = await approvedFolder()
  const running = await startCompanion(folder)
  const client = await letIn(running)
  const bench = createBench()
  await bench.run()
  const name = readdirSync(join(bench.rigFolder, 'journals')).toSorted()[0]
  const path = join(bench.rigFolder, 'journals', name)
  await pushJournal(client, nodeDisk, { path, keptFolder: bench.rigFolder, sent: new Set() })
  const journal = name.replace('.journal', '')
  expect(readFileSync(join(folder, 'companion-watch', 'mirror', name)).equals(readFileSync(path))).toBe(true)
  await client.state({ ...STATE, journal })
  running.type('post D4')
  running.type('note the board is warm to the touch')
  await running.until(/note: the board is warm/)
  expect((await client.seen(journal)).map(({ what, text }) => [what, text])).toEqual([['POST code', 'D4'], ['note', 'the board is warm to the touch']])
  const open = bench.journals()[0][0]
  const saws = ownRecords(folder).filter((body) => body.type === 'saw')
  expect(saws.map(({ journal: about, startId }) => [about, startId])).toEqual(saws.map(() => [journal, open.type === 'open' ? open.startId : null]))
  client.close()
})

test('what the rig asks is shown and answered by what is typed; a word that is none of its words is refused', { timeout: 120_000 }, async () => {
  const folder = await approvedFolder()
  const running = await startCompanion(folder)
  const client = await letIn(running)
  const ask = { id: createSources('x').newId(), kind: 'choice' as const, step: 'c1', text: 'How did it come up?', words: ['cold', 'warm'], unit: null, lines: [{ number: 1, key: 'power limit', where: '', from: null, to: '95 W' }], picture: false, since: '2026-11-03T08:00:00Z' }
  expect((await client.state({ ...STATE, state: 'asks', ask })).answers).toEqual([])
  await running.until(/power limit: not known → 95 W\n {2}Type cold or warm\./)
  running.type('hot')
  await running.until(/must be one of cold, warm/)
  running.type('cold')
  await running.until(/The rig is told/)
  expect((await client.state({ ...STATE, state: 'asks', ask })).answers).toMatchObject([{ ask: ask.id, answer: 'cold', via: 'companion' }])
  expect((await client.state(STATE)).answers).toEqual([])
  client.close()
})

test('killed and started again it knows its rigs, its certificate and its bytes, and what it wrote stands', { timeout: 120_000 }, async () => {
  const folder = await approvedFolder()
  const first = await startCompanion(folder)
  const client = await letIn(first)
  const bench = createBench()
  await bench.run()
  const name = readdirSync(join(bench.rigFolder, 'journals')).toSorted()[0]
  const journal = name.replace('.journal', '')
  await pushJournal(client, nodeDisk, { path: join(bench.rigFolder, 'journals', name), keptFolder: bench.rigFolder, sent: new Set() })
  await client.state({ ...STATE, journal })
  first.type('post 7F')
  await first.until(/POST code: 7F/)
  const held = await client.held(journal)
  await first.kill()
  const again = await startCompanion(folder, Number(new URL(first.url).port))
  expect(again.fingerprint).toBe(first.fingerprint)
  expect(await client.held(journal)).toEqual(held)
  expect((await client.seen(journal)).map(({ text }) => text)).toEqual(['7F'])
  const records = ownRecords(folder)
  expect(records.filter((body) => body.type === 'watch').map(({ previous }) => previous === null)).toEqual([true, false])
  client.close()
})

test('a stranger, a wrong code, a foreign journal, a fork, a gap, half a line and what is no message get a status and a sentence', { timeout: 120_000 }, async () => {
  const folder = await approvedFolder()
  const running = await startCompanion(folder)
  const { url, fingerprint } = running
  const call = async (path: string, options: { readonly method?: 'GET' | 'POST'; readonly token?: string; readonly body?: string | Uint8Array }) => {
    const { status, bytes } = await pinnedRequest({ url: `${url}${path}`, fingerprint, method: options.method ?? 'POST', headers: { 'content-type': 'application/json', ...(options.token === undefined ? {} : { authorization: `Bearer ${options.token}` }) }, ...(options.body === undefined ? {} : { body: options.body }) })
    return { status, ...(JSON.parse(bytes.toString()) as { readonly code?: string; readonly sentence?: string }) }
  }
  const journal = createSources('x').newId()
  expect(await call('/sync/hello', { body: '{}' })).toMatchObject({ status: 401 })
  expect(await call('/pair', { body: JSON.stringify({ code: 'AAAA-AAAA', name: 'x' }) })).toMatchObject({ status: 403, code: 'pairing' })
  const [, code] = await running.until(/--code (\S+)/)
  const token = await pairRig({ url, fingerprint, code, name: 'north bench' })
  await expect(pairRig({ url, fingerprint, code, name: 'again' })).rejects.toMatchObject({ code: 'not-paired' })
  running.type('code')
  const [, , second] = await running.until(/--code (\S+)[^]*--code (\S+)/)
  const other = await pairRig({ url, fingerprint, code: second, name: 'south bench' })
  const piece = (text: string, offset: number, by = token) => call(`/sync/journals/${journal}/piece?offset=${offset}`, { token: by, body: text })
  expect(await piece('one line\n', 0)).toMatchObject({ status: 200 })
  expect(await piece('another\n', 0)).toMatchObject({ status: 409, code: 'journal-fork' })
  expect(await piece('later\n', 100)).toMatchObject({ status: 409, code: 'journal-gap' })
  expect(await piece('half a line', 9)).toMatchObject({ status: 422, code: 'journal-piece' })
  expect(await piece('more\n', 9, other)).toMatchObject({ status: 403, code: 'journal-foreign' })
  expect(await call('/sync/state', { token, body: 'no JSON' })).toMatchObject({ status: 400 })
  expect(await call('/sync/state', { token, body: JSON.stringify({ state: { ...STATE, rig: 'south bench' }, clock: null }) })).toMatchObject({ status: 400, code: 'other-rig' })
  expect(await call('/sync/state', { token, body: '1'.repeat(2 * 1024 * 1024) })).toMatchObject({ status: 413 })
  expect(await call('/sync/journals/../../etc/passwd/held', { token, method: 'GET' })).toMatchObject({ status: 404 })
  expect(await call('/approve', { token, body: '{}' })).toMatchObject({ status: 404 })
  expect(readFileSync(join(folder, 'companion-watch', 'mirror', `${journal}.journal`), 'utf8')).toBe('one line\n')
  const letInFile = join(folder, 'companion-watch', 'let-in.json')
  expect(statSync(letInFile).mode & 0o777).toBe(0o600)
  expect(readFileSync(letInFile, 'utf8')).not.toContain(token)
})

test('it does not begin with an action that was not approved, or that is no longer what was approved', { timeout: 120_000 }, async () => {
  const folder = await approvedFolder()
  writeFileSync(join(folder, 'watch.json'), JSON.stringify({ ...WATCH, actions: [{ ...WATCH.actions[0], command: shell('echo something else') }] }))
  expect(await told(folder, 'companion', 'watch.json', '--listen', '127.0.0.1:0', '--as-root')).toContain('approve')
})

test.each([
  ['{ "schema": 1', 'line 1, column'],
  ['{ "schema": 1, "id": "w", "rig": "north bench",\n "silenceSeconds": 2 }', 'line 2, column 20: silenceSeconds'],
  ['{ "schema": 1, "id": "w", "rig": "north bench", "silenceSeconds": 40,\n "action": [] }', 'has no key "action"'],
])('a watch file such as %s gets a sentence with its place', { timeout: 60_000 }, async (text, sentence) => {
  const folder = temporaryFolder()
  writeFileSync(join(folder, 'watch.json'), text)
  expect(await told(folder, 'companion', 'watch.json', '--as-root')).toContain(sentence)
})
