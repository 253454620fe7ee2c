// What is kept of failed runs: whole, on the disk before the end that names it, and never at the price of that end.
import { createHash } from 'node:crypto'
import { existsSync, mkdirSync, readFileSync, readdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { CAPTURE_LIMIT } from '../command-driver.ts'
import { playPeople } from './answers.ts'
import { ONE_START, SCORE, createBench, ofType, planJson, roomyDisk, shell, type Bench } from './kit.ts'

test('a failed run\'s output and error output are kept byte by byte, named by their SHA-256', async () => {
  const bench = bench1('printf "a\\377b\\n"; echo "no lever" >&2; exit 4')
  await bench.run()
  const [end] = ofType(bench.journals(), 'end')
  const output = Buffer.from([0x61, 0xff, 0x62, 0x0a])
  expect(end.kept).toEqual([{ what: 'output', sha256: sum(output), bytes: 4 }, { what: 'error output', sha256: sum('no lever\n'), bytes: 9 }])
  expect(readFileSync(join(bench.rigFolder, 'kept', sum(output)))).toEqual(output)
})

test.each([
  ['echo "score: 1"; echo more >&2', 'scored'],
  ['exit 4', 'errors'],
])('of a run of %s, which ends as %s without anything to keep, there is no file', async (script, outcome) => {
  const bench = bench1(script)
  await bench.run()
  expect(ofType(bench.journals(), 'end')[0].outcome).toBe(outcome)
  expect(ofType(bench.journals(), 'end')[0].kept).toBeUndefined()
  expect(existsSync(join(bench.rigFolder, 'kept'))).toBe(false)
})

test('nothing is kept of a run that a person stopped', async () => {
  const bench = bench1('echo begun; touch begun; sleep 60')
  const stop = new AbortController()
  const running = bench.run({ signal: stop.signal })
  while (!existsSync(join(bench.folder, 'begun'))) await new Promise((resolve) => setTimeout(resolve, 5))
  stop.abort()
  await running
  expect(ofType(bench.journals(), 'end')[0]).toMatchObject({ outcome: 'stopped by a person' })
  expect(ofType(bench.journals(), 'end')[0].kept).toBeUndefined()
})

test('of a flood the last MiB is kept, and that it was cut is said', async () => {
  const bench = bench1('head -c 3000000 /dev/zero | tr "\\0" x; echo last; exit 1')
  await bench.run()
  const [file] = ofType(bench.journals(), 'end')[0].kept ?? []
  expect(file).toMatchObject({ bytes: CAPTURE_LIMIT, cut: true })
  expect(readFileSync(join(bench.rigFolder, 'kept', file.sha256), 'utf8').endsWith('xlast\n')).toBe(true)
})

test('the same content is kept once; one that was spoiled since is written anew', async () => {
  const bench = bench1('echo same; exit 4', 3)
  const spoil = join(bench.rigFolder, 'kept', sum('same\n'))
  mkdirSync(join(bench.rigFolder, 'kept'), { recursive: true })
  writeFileSync(spoil, 'spoiled')
  await bench.run()
  expect(readdirSync(join(bench.rigFolder, 'kept'))).toEqual([sum('same\n')])
  expect(readFileSync(spoil, 'utf8')).toBe('same\n')
  expect(ofType(bench.journals(), 'end').map(({ kept }) => kept?.length)).toEqual([1, 1, 1])
})

test('what is kept is there before the end that names it is written', async () => {
  const bench = bench1('echo why; exit 4')
  const path = join(bench.rigFolder, 'kept', sum('why\n'))
  const there: boolean[] = []
  await bench.run({ disk: { ...roomyDisk, create: async (name) => {
    const file = await roomyDisk.create(name)
    return { ...file, append: async (bytes) => {
      if (Buffer.from(bytes).includes('{"type":"end"')) there.push(existsSync(path))
      await file.append(bytes)
    } }
  } } })
  expect(there).toEqual([true])
})

test('a disk that takes no such file costs the run nothing but the file, and that is said', async () => {
  const bench = bench1('echo why; echo "no lever" >&2; exit 4')
  mkdirSync(bench.rigFolder, { recursive: true })
  writeFileSync(join(bench.rigFolder, 'kept'), 'in the way')
  expect(await bench.run()).toMatchObject({ outcome: 'finished' })
  const [end] = ofType(bench.journals(), 'end')
  expect(end.outcome).toBe('errors')
  expect(end.kept).toBeUndefined()
  expect(end.message).toMatch(/^ended with status 4: no lever; its output could not be kept: .*; its error output could not be kept: /)
})

test('a picture that a person sends along is kept, however the run ended; one too large is not, and that is said', async () => {
  const picture = new Uint8Array([1, 2, 3])
  const large = new Uint8Array(32 * 1024 * 1024 + 1)
  const bench = createBench(planJson({ workloads: [{ name: 'photo stack', prompt: { text: 'Play the map scene.' } }], design: { ...ONE_START, repeats: 2 } }))
  await bench.run({ people: playPeople([{ answer: 'passed', picture }, { answer: 'hung', picture: large }]).people })
  const ends = ofType(bench.journals(), 'end')
  expect(ends[0].kept).toEqual([{ what: 'picture', sha256: sum(picture), bytes: 3 }])
  expect(ends[1].kept).toBeUndefined()
  expect(ends[1].message).toBe(`its picture could not be kept: it must be at most 32 MiB; got ${large.length} bytes`)
})

function bench1(script: string, repeats = 1): Bench {
  return createBench(planJson({ workloads: [{ name: 'photo stack', command: shell(script), measures: script.includes('score') ? [SCORE] : [] }], design: { ...ONE_START, repeats } }))
}

function sum(content: string | Uint8Array): string {
  return createHash('sha256').update(content).digest('hex')
}
