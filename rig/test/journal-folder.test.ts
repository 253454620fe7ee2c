// The journal folder: whose it is, who works in it, and what can be told of its files.
import { copyFileSync, cpSync, existsSync, mkdirSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { planHash } from '@guardband/model'
import { expect, test } from 'vitest'
import { sameBoot } from '../boot-id.ts'
import { lockFolder, processStart } from '../folder-lock.ts'
import { readJournalFolder } from '../journal-folder.ts'
import { defaultRigFolder, journalFolderOf, readPlan } from '../index.ts'
import { createBench, createSources, ofType, planJson, roomyDisk, temporaryFolder } from './kit.ts'

test('a folder with journals of another plan, or of this plan before a change, is refused and left as it is', async () => {
  const bench = createBench()
  await bench.run()
  const before = readdirSync(journalFolderOf(bench.rigFolder))
  const changed = createBench(planJson({ title: 'Narrow against wide, again' }), bench.folder)
  await expect(changed.run()).rejects.toMatchObject({ code: 'other-plan', sentence: expect.stringContaining('Give the changed plan another id, or another folder with --folder.') })
  expect(readdirSync(journalFolderOf(bench.rigFolder))).toEqual(before)
})

test('a plan\'s own folder stands beside it under its id, whatever characters that holds', () => {
  const plan = readPlan(JSON.stringify(planJson({ id: '../north bench: a/b' })), 'plan.json')
  expect(defaultRigFolder('/lab/plans/plan.json', plan)).toBe('/lab/plans/rig-..-north-bench-a-b')
})

test('journals chain from file to file', async () => {
  const bench = createBench()
  await bench.run()
  const opens = ofType(bench.journals(), 'open')
  expect(opens.map(({ previous }) => previous?.journal ?? null)).toEqual([null, ...opens.slice(0, -1).map(({ journal }) => journal)])
})

test('a folder that was copied and used twice shows as a fork; all that is finished on either side counts', async () => {
  const bench = createBench()
  const folder = journalFolderOf(bench.rigFolder)
  await stopAfterRuns(bench, 3)
  const copy = join(bench.folder, 'copy')
  cpSync(folder, copy, { recursive: true })
  await stopAfterRuns(bench, 2)
  const apart = readdirSync(folder).filter((name) => !readdirSync(copy).includes(name))
  const away = join(bench.folder, 'away')
  mkdirSync(away)
  for (const name of apart) {
    copyFileSync(join(folder, name), join(away, name))
    rmSync(join(folder, name))
  }
  await stopAfterRuns(bench, 1)
  for (const name of apart) copyFileSync(join(away, name), join(folder, name))
  const reading = await readBench(bench)
  expect(reading.cautions).toHaveLength(1)
  expect(reading.cautions[0]).toContain('was copied or restored and then used twice')
  expect([...reading.finished.keys()].filter((id) => id.includes('.r'))).toHaveLength(5)
})

test('a journal that is missing from the chain is named', async () => {
  const bench = createBench()
  await bench.run()
  const folder = journalFolderOf(bench.rigFolder)
  const [, second] = readdirSync(folder).toSorted()
  rmSync(join(folder, second))
  const { cautions } = await readBench(bench)
  expect(cautions).toEqual([expect.stringContaining(`the journal before it, ${second.replace('.journal', '')}, is missing`)])
})

test('a journal cut short after the next one chained to it is named', async () => {
  const bench = createBench()
  await bench.run()
  const folder = journalFolderOf(bench.rigFolder)
  const [first] = readdirSync(folder).toSorted()
  const whole = readFileSync(join(folder, first))
  writeFileSync(join(folder, first), whole.subarray(0, whole.length - 1))
  expect((await readBench(bench)).cautions).toEqual([expect.stringContaining('no longer ends as it did')])
})

test('damage inside a journal is named by line and byte, the rest of its steps still counts', async () => {
  const bench = createBench()
  await bench.run()
  const folder = journalFolderOf(bench.rigFolder)
  const path = join(folder, readdirSync(folder).toSorted()[0])
  const lines = readFileSync(path, 'utf8').split('\n')
  const damaged = lines.findIndex((line) => line.includes('"in force"'))
  lines[damaged] = lines[damaged].replace('"known"', '"knewn"')
  writeFileSync(path, lines.join('\n'))
  const { cautions, finished } = await readBench(bench)
  expect(cautions).toEqual([expect.stringContaining(`${path}, line ${damaged + 1} (byte ${Buffer.byteLength(lines.slice(0, damaged).join('\n')) + 1}`)])
  expect(finished.size).toBe(12)
})

test('an empty journal, as a crash right after its making leaves it, is no trouble', async () => {
  const bench = createBench()
  mkdirSync(journalFolderOf(bench.rigFolder), { recursive: true })
  writeFileSync(join(journalFolderOf(bench.rigFolder), '00000000-0000-7000-8000-000000000000.journal'), '')
  expect(await bench.run()).toMatchObject({ outcome: 'finished' })
  expect((await readBench(bench)).cautions).toEqual([])
})

test('two runners never share a folder', async () => {
  const folder = temporaryFolder()
  const sources = createSources('boot-1')
  const release = lockFolder(folder, sources)
  expect(() => lockFolder(folder, sources)).toThrow(expect.objectContaining({ code: 'rig-folder-busy', message: `another runner works in this folder (process ${process.pid}).` }))
  release()
  lockFolder(folder, sources)()
  expect(existsSync(join(folder, 'rig.lock'))).toBe(false)
})

test.each([
  ['of another boot', { pid: process.pid, started: processStart(process.pid), bootId: 'boot-0' }],
  ['of a process that is gone', { pid: 2 ** 22 - 1, started: '1', bootId: 'boot-1' }],
  ['of a process whose number another one has now', { pid: process.pid, started: '1', bootId: 'boot-1' }],
])('a lock %s is taken over', (_, left) => {
  const folder = temporaryFolder()
  writeFileSync(join(folder, 'rig.lock'), JSON.stringify(left))
  lockFolder(folder, createSources('boot-1'))()
  expect(readdirSync(folder)).toEqual([])
})

test('a lock that a crash left empty is taken over', () => {
  const folder = temporaryFolder()
  writeFileSync(join(folder, 'rig.lock'), '')
  lockFolder(folder, createSources('boot-1'))()
  expect(readdirSync(folder)).toEqual([])
})

test.each([
  ['a', 'a', true],
  ['a', 'b', false],
  ['booted-minute-100', 'booted-minute-101', true],
  ['booted-minute-100', 'booted-minute-103', false],
  ['booted-minute-100', 'a', false],
])('the boots %s and %s are the same: %s', (a, b, same) => {
  expect(sameBoot(a, b)).toBe(same)
})

type Bench = ReturnType<typeof createBench>

async function stopAfterRuns(bench: Bench, runs: number): Promise<void> {
  const stop = new AbortController()
  let left = runs
  const before = bench.said.length
  await bench.run({
    signal: stop.signal,
    terminal: {
      interactive: false,
      detail: 'steps',
      say: (line) => {
        if (/^\d+ of /.test(line) && --left === 0) stop.abort()
      },
      ask: () => Promise.reject(new Error('nobody is asked here')),
    },
  })
  expect(bench.said.length).toBe(before)
}

function readBench(bench: Bench) {
  const plan = readPlan(readFileSync(join(bench.folder, 'plan.json'), 'utf8'), 'plan.json')
  return readJournalFolder(roomyDisk, journalFolderOf(bench.rigFolder), planHash(plan))
}
