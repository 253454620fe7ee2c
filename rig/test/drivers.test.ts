// The three drivers: what they share, by one suite, and what is their own.
import { createHash } from 'node:crypto'
import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { SelfCheckKernel } from '../self-check.ts'
import { playPeople } from './answers.ts'
import { driverConformance } from './driver-conformance.ts'
import { ONE_START, SCORE, createBench, diskThatFailsAt, ofType, planJson, quietTerminal, shell, type Bench } from './kit.ts'

const METER = { name: 'wall power', unit: 'W', direction: 'lower is better', reading: { typed: 'What does the meter say?' } }

driverConformance('command', {
  well: { workload: { command: shell('echo "score: 3"; echo "warm: 41" >&2'), measures: [SCORE, METER, { ...SCORE, name: 'warmth', reading: { in: 'error output', pattern: 'warm: (.*)' } }] }, order: () => ({ people: playPeople(['65', '65']).people }) },
  measures: { score: 3, 'wall power': 65, warmth: 41 },
  endless: {
    workload: { command: shell('echo $$ > pid; sleep 60'), measures: [SCORE] }, order: () => ({}),
    atWork: (bench) => existsSync(join(bench.folder, 'pid')), leftAtWork: (bench) => isAlive(Number(readFileSync(join(bench.folder, 'pid'), 'utf8'))),
  },
  late: { workload: { command: shell('trap "" TERM; while :; do sleep 0.05; done', { timeLimitSeconds: 0.2 }), measures: [SCORE] }, order: () => ({}) },
  failing: { workload: { command: shell('exit 4') }, order: () => ({}), outcome: 'errors', message: 'ended with status 4' },
  counting: null,
  refused: { workload: { command: shell('echo "score: 3"'), measures: [SCORE, METER] }, order: () => ({}), told: 'person needed' },
})

let played = playPeople([])
const open = () => (played = playPeople([]))

driverConformance('prompt', {
  well: { workload: { prompt: { text: 'Play the map scene.' }, measures: [METER, { ...METER, name: 'noise', unit: 'dBA' }] }, order: () => ({ people: playPeople(['scored', '65', '-2', 'scored', '65 W', '-2']).people }) },
  measures: { 'wall power': 65, noise: -2 },
  endless: { workload: { prompt: { text: 'Play the map scene.' } }, order: () => ({ people: open().people }), atWork: () => played.open() === 1, leftAtWork: () => played.open() > 0 },
  late: null,
  failing: { workload: { prompt: { text: 'Play the map scene.' }, measures: [METER] }, order: () => ({ people: playPeople(['device lost', 'device lost']).people }), outcome: 'device lost' },
  counting: null,
  refused: { workload: { prompt: { text: 'Play the map scene.' } }, order: () => ({}), told: 'person needed' },
})

// SHA-256 over 64 zero bytes, then over each digest: 1,000 times, from outside (Python's hashlib).
const KNOWN_ANSWER = 'aa15ee7525f532946d356a23a0aa50228138684ab9695b7498dd0e03cf26e9ad'

/** Hashes a chain of known end over and over. `spoil` sets a bit of one digest in one pass, as bad memory would. */
function hashChain(options: { readonly spoil?: number; readonly deaf?: boolean; readonly passes?: number } = {}): SelfCheckKernel & { readonly atWork: () => boolean } {
  let atWork = false
  return {
    name: 'hash chain',
    overrunSeconds: 0.2,
    atWork: () => atWork,
    run: async ({ seconds, signal, onProgress }) => {
      atWork = true
      const until = performance.now() + seconds * 1000
      let passes = 0
      try {
        while (options.deaf === true || (performance.now() < until && !signal.aborted && passes < (options.passes ?? Number.POSITIVE_INFINITY))) {
          let digest = Buffer.alloc(64)
          for (let link = 0; link < 1000; link++) {
            digest = createHash('sha256').update(digest).digest()
            if (passes === options.spoil && link === 500) digest[7] ^= 0b100
          }
          if (digest.toString('hex') !== KNOWN_ANSWER) return { outcome: 'wrong result', exposure: { passes }, place: `pass ${passes}`, message: `pass ${passes} came to another digest` }
          passes += 1
          onProgress({ passes, bytes: passes * 1000 * 32 })
          await new Promise((resolve) => setTimeout(resolve, 1))
          if (options.deaf === true && performance.now() > until + 3000) break
        }
        return { outcome: 'passed', exposure: { seconds, passes, bytes: passes * 1000 * 32 } }
      } finally {
        atWork = false
      }
    },
  }
}

let endless = hashChain()
const check = (seconds: number) => ({ selfCheck: { kernel: 'hash chain', seconds } })

driverConformance('self-check', {
  well: { workload: check(0.05), order: () => ({ kernels: [hashChain()] }) },
  measures: {},
  endless: { workload: check(600), order: () => ({ kernels: [(endless = hashChain())] }), atWork: () => endless.atWork(), leftAtWork: () => endless.atWork() },
  late: { workload: check(0.1), order: () => ({ kernels: [hashChain({ deaf: true })] }) },
  failing: { workload: check(5), order: () => ({ kernels: [hashChain({ spoil: 3 })] }), outcome: 'wrong result', message: 'pass 3 came to another digest' },
  counting: { workload: check(60), order: () => ({ kernels: [hashChain({ passes: 4 })] }), exposure: { seconds: 60, passes: 4, bytes: 128_000 } },
  refused: { workload: check(1), order: () => ({ kernels: [{ ...hashChain(), name: 'memory walk' }, { ...hashChain(), name: 'cache walk' }] }), told: 'no-kernel' },
})

test('a self-check that finds a wrong result says where, and after how many passes', async () => {
  const bench = bench1({ selfCheck: { kernel: 'hash chain', seconds: 5 } })
  await bench.run({ kernels: [hashChain({ spoil: 3 })] })
  expect(ofType(bench.journals(), 'end')[0]).toMatchObject({ outcome: 'wrong result', place: 'pass 3', exposure: { passes: 3 }, exitStatus: null, signal: null })
})

test('a self-check that is stopped keeps what it went over, and a fault found by then stands', async () => {
  const stop = new AbortController()
  const found = { name: 'hash chain', run: async ({ signal }: { readonly signal: AbortSignal }) => {
    if (!signal.aborted) await new Promise((resolve) => signal.addEventListener('abort', resolve))
    return { outcome: 'errors' as const, exposure: { passes: 2 }, place: 'core 3' }
  } }
  const bench = bench1({ selfCheck: { kernel: 'hash chain', seconds: 600 } })
  const running = bench.run({ kernels: [found], signal: stop.signal })
  while (ofType(bench.journalsIfAny(), 'begin').length === 0) await new Promise((resolve) => setTimeout(resolve, 10))
  stop.abort()
  await running
  expect(ofType(bench.journals(), 'end')[0]).toMatchObject({ outcome: 'errors', exposure: { passes: 2 }, place: 'core 3' })
})

test('a kernel that hangs leaves what it last told of its progress; one that can\'t be run is an error with its reason', async () => {
  const hanging: SelfCheckKernel = { name: 'hash chain', overrunSeconds: 0.1, run: ({ onProgress }) => {
    onProgress({ passes: 7, bytes: Number.NaN, seconds: -1 })
    return new Promise(() => undefined)
  } }
  const bench = bench1({ selfCheck: { kernel: 'hash chain', seconds: 0.1 } })
  await bench.run({ kernels: [hanging] })
  expect(ofType(bench.journals(), 'end')[0]).toMatchObject({ outcome: 'hung', exposure: { passes: 7 }, message: 'the kernel hash chain had not ended 0.1 s after its 0.1 s' })
  const other = bench1({ selfCheck: { kernel: 'hash chain', seconds: 0.1 } })
  await other.run({ kernels: [{ ...hanging, run: () => Promise.reject(new Error('no memory to walk')) }] })
  expect(ofType(other.journals(), 'end')[0]).toMatchObject({ outcome: 'errors', message: 'the kernel hash chain could not be run: no memory to walk' })
})

test.each([
  [[], 'workload work: this rig has no self-check kernel "hash chain". It has none.'],
  [['memory walk', 'cache walk'], 'workload work: this rig has no self-check kernel "hash chain". It has: memory walk, cache walk.'],
])('a plan that names a kernel which the rig lacks is refused before its first step, with those that it has: %j', async (names, sentence) => {
  const bench = bench1({ selfCheck: { kernel: 'hash chain', seconds: 1 } })
  await expect(bench.run({ kernels: names.map((name) => ({ ...hashChain(), name })) })).rejects.toMatchObject({ sentence })
  expect(existsSync(bench.rigFolder)).toBe(false)
})

test('a typed measure is asked again, with a sentence, until it is a number that makes sense in its unit', async () => {
  const { people, asked } = playPeople(['scored', 'many', '65,5', '-3', '12 s', '65500 mW'])
  const bench = bench1({ prompt: { text: 'Play the map scene.' }, measures: [METER] })
  await bench.run({ people })
  expect(asked.map(({ kind, text, unit }) => [kind, text.split('\n')[0], unit])).toEqual([
    ['choice', 'Play the map scene.', undefined],
    ['value', 'work, wall power: What does the meter say?', 'W'],
    ['value', 'The value must be a number in W, with a decimal point; got "many".', 'W'],
    ['value', 'The value must be a number in W, with a decimal point; got "65,5".', 'W'],
    ['value', 'A value in W must be above zero; got -3.', 'W'],
    ['value', 'The value must be a number in W, with a decimal point; got "12 s", which does not convert to it.', 'W'],
  ])
  expect(ofType(bench.journals(), 'end')[0]).toMatchObject({ outcome: 'scored', measures: [{ name: 'wall power', value: 65.5 }] })
  expect(ofType(bench.journals(), 'answer').map(({ answer }) => answer)).toEqual(['scored', 'many', '65,5', '-3', '12 s', '65500 mW'])
})

test('a workload without measures that a person carries out is a choice of how it ended, and its answer stands between begin and end', async () => {
  const { people, asked } = playPeople(['throttled'])
  const bench = bench1({ prompt: { text: 'Play the map scene.' } })
  await bench.run({ people })
  expect(asked[0]).toMatchObject({ kind: 'choice', picture: true, words: ['passed', 'errors', 'wrong result', 'program died', 'hung', 'machine reset', 'protection trip', 'device lost', 'throttled'] })
  expect(bench.journals()[0].map(({ type }) => type).filter((type) => ['begin', 'answer', 'end'].includes(type))).toEqual(['begin', 'answer', 'end'])
  expect(ofType(bench.journals(), 'end')[0].outcome).toBe('throttled')
})

test('what was typed before a person stopped is kept', async () => {
  const stop = new AbortController()
  const { people, open } = playPeople(['scored', '65'])
  const bench = bench1({ prompt: { text: 'Play the map scene.' }, measures: [METER, { ...METER, name: 'noise', unit: 'dBA' }] })
  const running = bench.run({ people, signal: stop.signal })
  while (open() === 0) await new Promise((resolve) => setTimeout(resolve, 5))
  stop.abort()
  await running
  expect(ofType(bench.journals(), 'end')[0]).toMatchObject({ outcome: 'stopped by a person', measures: [{ name: 'wall power', value: 65 }] })
})

test('typed measures of a command are asked for only once it has ended well', async () => {
  const { people, asked } = playPeople([])
  const bench = bench1({ command: shell('exit 3'), measures: [METER] })
  await bench.run({ people })
  expect(asked).toEqual([])
  expect(ofType(bench.journals(), 'end')[0]).toMatchObject({ outcome: 'errors', measures: [] })
})

test('where whoever is asked goes away in the middle of a run, the run ends, and the plan stops for a person', async () => {
  const bench = bench1({ prompt: { text: 'Play the map scene.' } })
  const closed = { ...quietTerminal([], []), interactive: true, ask: async () => Promise.reject(Object.assign(new Error('Aborted with Ctrl+D'), { name: 'AbortError' })) }
  expect(await bench.run({ terminal: closed })).toMatchObject({ outcome: 'person needed' })
  expect(ofType(bench.journals(), 'end')[0].outcome).toBe('stopped by a person')
  expect(bench.journals()[0].at(-1)?.type).toBe('close')
})

test('a journal that fails at an answer ends the run without another word', async () => {
  const bench = bench1({ prompt: { text: 'Play the map scene.' } })
  const disk = diskThatFailsAt('answer', 1)
  expect(await bench.run({ people: playPeople(['passed']).people, disk })).toMatchObject({ outcome: 'journal failed' })
  expect(disk.callsAfterFailure()).toEqual([])
})

function bench1(workload: Readonly<Record<string, unknown>>): Bench & { readonly journalsIfAny: Bench['journals'] } {
  const bench = createBench(planJson({ workloads: [{ name: 'work', ...workload }], design: { ...ONE_START, workloads: ['work'] } }))
  return { ...bench, journalsIfAny: () => (existsSync(join(bench.rigFolder, 'journals')) ? bench.journals() : []) }
}

function isAlive(pid: number): boolean {
  try {
    return !/^State:\s+Z/m.test(readFileSync(`/proc/${pid}/status`, 'utf8'))
  } catch {
    return false
  }
}
