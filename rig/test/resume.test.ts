// How a plan goes on: live changes within a start, wishes to stop, the time before it goes on, restarts, tunes that crashed, and a machine beside this one.
import { createHash } from 'node:crypto'
import { copyFileSync, readFileSync, readdirSync } from 'node:fs'
import { basename, join } from 'node:path'
import type { JournalBody } from '@guardband/model'
import { expect, test } from 'vitest'
import { noLink, type Link } from '../index.ts'
import type { Machine, MachineAfter } from '../machine.ts'
import { askToStop, stopAsked } from '../stop-request.ts'
import { createBench, createSources, diskThatFailsAt, ofType, planJson, quietTerminal, readJournals, shell, SCORE, tune, type Bench } from './kit.ts'

const CHANGE = { id: 'c1', kind: 'change', tune: 'narrow', start: 'live' }
const ADJUSTED = [CHANGE, run('r1'), { id: 'a1', kind: 'adjust', tune: 'wide' }, run('r2'), run('r3'), { id: 'a2', kind: 'adjust', tune: 'narrow' }, run('r4')]
const FAILS_ONCE = { limits: { graceSeconds: 0, crashesPerTune: 1 } }

test('a live change puts another tune in force within the start, and later runs name it', async () => {
  const bench = createBench(stepsJson(ADJUSTED))
  expect(await bench.run()).toMatchObject({ outcome: 'finished' })
  expect(bench.journals()).toHaveLength(1)
  expect(scores(bench)).toEqual(['r1 narrow 1', 'r2 wide 2', 'r3 wide 2', 'r4 narrow 1'])
  expect(ofType(bench.journals(), 'in force').map(({ tune: name, known }) => [name, known])).toEqual([['narrow', 'read back'], ['wide', 'read back'], ['narrow', 'read back']])
})

test.each([
  ['fails', 'exit 3'],
  ['is not what is read back', 'echo 7 > setting'],
])('the runs of a live change that %s are not run; the next live change is', async (_, apply) => {
  const bench = createBench(stepsJson(ADJUSTED, { tunes: [tune('narrow', 1), tune('wide', 2, apply)] }))
  expect(await bench.run()).toMatchObject({ outcome: 'finished', skipped: ['r2', 'r3'] })
  expect(scores(bench)).toEqual(['r1 narrow 1', 'r4 narrow 1'])
  expect(ofType(bench.journals(), 'done').filter(({ message }) => message?.startsWith('not run') === true).map(({ step }) => step)).toEqual(['r2', 'r3'])
  expect(bench.said.join('\n')).toContain('not in force')
})

test('every place where a start with live changes is cut short is taken up under the right tune', async () => {
  for (const [type, count] of [['end', 4], ['in force', 3]] as const) {
    for (let nth = 1; nth <= count; nth++) {
      for (const boot of ['boot-1', 'boot-2']) {
        const bench = createBench(stepsJson(ADJUSTED))
        await bench.run({ disk: diskThatFailsAt(type, nth) })
        expect(await bench.run(inBoot(boot)), `${type} ${nth} ${boot}`).toMatchObject({ outcome: 'finished', skipped: [] })
        const wanted = type === 'end' ? 3 : 4
        expect(scores(bench), `${type} ${nth} ${boot}`).toEqual(['r1 narrow 1', 'r2 wide 2', 'r3 wide 2', 'r4 narrow 1'].filter((_, index) => wanted === 4 || index !== nth - 1))
      }
    }
  }
})

test('what a live change sets is lost with the power: a cold start taken up within it has its own tune first', async () => {
  const bench = createBench(stepsJson([{ ...CHANGE, start: 'cold' }, run('r1'), { id: 'a1', kind: 'adjust', tune: 'wide' }, run('r2'), run('r3')]))
  await bench.run(inBoot('boot-1'))
  await bench.run({ ...inBoot('boot-2'), disk: diskThatFailsAt('end', 2) })
  expect(await bench.run(inBoot('boot-3'))).toMatchObject({ outcome: 'person needed', waitsForPower: true })
  expect(readFileSync(join(bench.folder, 'setting'), 'utf8').trim(), 'the start\'s own').toBe('1')
  expect(await bench.run(inBoot('boot-4'))).toMatchObject({ outcome: 'finished' })
  expect(scores(bench)).toEqual(['r1 narrow 1', 'r3 wide 2'])
  expect(bench.journals().at(-1)?.flatMap((body) => (body.type === 'start' || body.type === 'in force' ? [body.tune] : []))).toEqual(['narrow', 'narrow', 'wide'])
})

test('a live change that takes the machine down counts against the tune that it was for', async () => {
  const bench = createBench(stepsJson(ADJUSTED, FAILS_ONCE))
  await bench.run({ disk: diskThatFailsAt('in force', 2) })
  expect(await bench.run(inBoot('boot-2'))).toMatchObject({ outcome: 'finished', skipped: ['r2', 'r3'] })
  expect(ofType(bench.journals(), 'start').map(({ tune: name, result, how }) => [name, result, how])).toEqual([['narrow', 'started', 'live'], ['wide', 'no start', 'live'], ['narrow', 'started', 'warm']])
})

test('so does one that takes it down as it is put in force anew for the runs that were left', async () => {
  const bench = createBench(stepsJson(ADJUSTED))
  await bench.run({ disk: diskThatFailsAt('end', 2) })
  await bench.run({ ...inBoot('boot-2'), disk: diskThatFailsAt('start', 1) })
  expect(await bench.run(inBoot('boot-3')), 'a reset in r2, and a start that did not come about').toMatchObject({ outcome: 'finished', skipped: ['r3'] })
  expect(ofType(bench.journals(), 'start').map(({ tune: name, result }) => [name, result])).toEqual([['narrow', 'started'], ['wide', 'no start'], ['narrow', 'started']])
  expect(scores(bench)).toEqual(['r1 narrow 1', 'r4 narrow 1'])
})

test('what goes down with a live change in a cold start is booked as live', async () => {
  const bench = createBench(stepsJson([{ ...CHANGE, start: 'cold' }, run('r1'), { id: 'a1', kind: 'adjust', tune: 'wide' }, run('r2')], FAILS_ONCE))
  await bench.run(inBoot('boot-1'))
  await bench.run({ ...inBoot('boot-2'), disk: diskThatFailsAt('in force', 2) })
  expect(await bench.run(inBoot('boot-3'))).toMatchObject({ outcome: 'finished', skipped: ['r2'] })
  expect(ofType(bench.journals(), 'start').map(({ tune: name, result, how }) => [name, result, how])).toEqual([['narrow', 'started', 'warm'], ['wide', 'no start', 'live']])
})

test('a wish to stop ends an unattended plan at once and lasts until a person runs it', async () => {
  const bench = createBench()
  askToStop(bench.rigFolder)
  for (const boot of ['boot-1', 'boot-2']) expect(await bench.run(unattended(boot))).toMatchObject({ outcome: 'stopped by a person', finished: [], journals: [] })
  expect(await bench.run()).toMatchObject({ outcome: 'finished' })
  expect(stopAsked(bench.rigFolder)).toBe(false)
})

test('nothing is done to a machine while a wish to stop stands', async () => {
  const bench = createBench()
  askToStop(bench.rigFolder)
  const touched: string[] = []
  const machine: Machine = { boot: async () => null, afterTrouble: async (before) => (touched.push(before), { kind: 'same' }) }
  expect(await bench.run({ attendance: 'unattended', machine })).toMatchObject({ outcome: 'stopped by a person', journals: [] })
  expect(touched).toEqual([])
})

test('a link in trouble holds nothing up', async () => {
  const bench = createBench()
  expect(await bench.run({ link: { ...noLink, mirror: networkGone, seen: networkGone, close: networkGone } })).toMatchObject({ outcome: 'finished' })
  expect(bench.said).toContain('caution: the journal could not be mirrored (the network is gone)')
})

test('a wish to stop is heard before the next step', async () => {
  const bench = createBench(planJson({ workloads: [{ name: 'photo stack', command: shell('touch rig/stop; echo "score: $(cat setting)"'), measures: [SCORE] }] }))
  const result = await bench.run()
  expect(result).toMatchObject({ outcome: 'stopped by a person', finished: ['b1.t1', 'b1.t1.w1.r1'] })
  expect(bench.journals()[0].at(-1)).toMatchObject({ type: 'close', reason: expect.stringContaining('a person asked this rig to stop') })
})

test('after a crash a plan waits its time, counts down, and goes on', async () => {
  const bench = createBench()
  await bench.run({ disk: diskThatFailsAt('end', 2) })
  const turned: string[] = []
  let slept = 0
  const sources = { ...createSources('boot-2'), sleep: async (milliseconds: number) => void (slept += milliseconds) }
  expect(await bench.run({ sources, link: linkWith({ turned: (state) => void turned.push(state) }) })).toMatchObject({ outcome: 'finished' })
  expect(slept).toBe(30_000)
  expect(turned.slice(0, 2)).toEqual(['grace', 'at work'])
  expect(bench.said).toEqual(expect.arrayContaining([expect.stringContaining('It goes on in 30 s'), '20 s', '10 s']))
})

test.each([
  ['a key', (bench: Bench) => ({ terminal: { ...quietTerminal([...bench.said], ['unknown']), key: async () => {} } })],
  ['a wish to stop', (bench: Bench) => ({ sources: { ...createSources('boot-2'), sleep: async () => askToStop(bench.rigFolder) } })],
  ['Ctrl-C', () => {
    const stop = new AbortController()
    return { signal: stop.signal, sources: { ...createSources('boot-2'), sleep: async () => stop.abort() } }
  }],
])('%s in that time keeps the plan from going on, and nothing is lost by it', async (_, more) => {
  const bench = createBench()
  await bench.run({ disk: diskThatFailsAt('end', 2) })
  const never = { sleep: () => new Promise<void>(() => {}) }
  const stopped = more(bench)
  expect(await bench.run({ sources: { ...createSources('boot-2'), ...never }, ...stopped })).toMatchObject({ outcome: 'stopped by a person', finished: ['b1.t1', 'b1.t1.w1.r1', 'b1.t1.w1.r2'] })
  expect(ofType(bench.journals(), 'begin')).toHaveLength(2)
  expect(await bench.run(inBoot('boot-2'))).toMatchObject({ outcome: 'finished' })
  expect(ofType(bench.journals(), 'resolved').map(({ step, outcome }) => [step, outcome])).toEqual([['b1.t1.w1.r2', 'machine reset']])
})

test('an unattended machine that keeps restarting is left alone after as many restarts as the plan allows, even where it goes down while the plan waits', async () => {
  const bench = createBench(planJson({ limits: { restartsPerHour: 3 } }))
  await bench.run({ ...unattended('boot-0'), disk: diskThatFailsAt('end', 2) })
  for (const boot of ['boot-1', 'boot-2']) {
    await expect(bench.run({ attendance: 'unattended', sources: { ...createSources(boot), sleep: powerCut } })).rejects.toThrow('the power went')
  }
  expect(await bench.run(unattended('boot-3'))).toMatchObject({ outcome: 'too many restarts', message: expect.stringContaining('3 times within an hour') })
  expect(await bench.run({ sources: createSources('boot-3'), terminal: quietTerminal([], Array.from({ length: 9 }, () => 'warm')) }), 'a person goes on').toMatchObject({ outcome: 'finished' })
})

test('a tune that crashed as often as it may has failed: its runs in this and later starts are closed, and the plan goes on', async () => {
  const bench = createBench(planJson({ limits: { graceSeconds: 0 } }))
  await bench.run({ disk: diskThatFailsAt('end', 1) })
  await bench.run({ sources: createSources('boot-2'), disk: diskThatFailsAt('end', 1) })
  expect(await bench.run(inBoot('boot-3'))).toMatchObject({ outcome: 'finished', skipped: ['b2.t1.w1.r1', 'b2.t1.w1.r2'] })
  expect(ofType(bench.journals(), 'done').findLast(({ step }) => step === 'b2.t1.w1.r1')?.message).toBe('not run: the tune failed: 2 crashes (machine reset)')
  expect(scores(bench).map((text) => text.split(' ')[1])).toEqual(['wide', 'wide', 'wide', 'wide'])
})

const TUNES = [['base', 1], ['middle', 2], ['far', 3], ['near', 1.5]].map(([name, value]) => ({ ...tune(String(name), Number(value)), settings: [{ key: 'power limit', asked: { shape: 'scalar', value, unit: 'W' } }] }))
const OUTWARDS = { tunes: TUNES, base: 'base', design: { tunes: ['base', 'middle', 'far', 'near'], workloads: ['photo stack'], startsPerTune: 1, repeats: 1 }, limits: { graceSeconds: 0 } }

test('after a crash nothing goes further from base than the tune that crashed, unless a person at the terminal lets it', async () => {
  const alone = await crashedOutwards()
  expect(await alone.run(inBoot('boot-2'))).toMatchObject({ outcome: 'finished', skipped: ['b1.t3.w1.r1'] })
  expect(scores(alone)).toEqual(['b1.t1.w1.r1 base 1', 'b1.t4.w1.r1 near 1.5'])
  expect(ofType(alone.journals(), 'done').find(({ step }) => step === 'b1.t3')?.message).toBe('not run: in power limit it stands further from "base" than "middle", which crashed (machine reset)')
  const watched = await crashedOutwards()
  const said: string[] = []
  expect(await watched.run({ sources: createSources('boot-2'), terminal: quietTerminal(said, ['reset', 'yes', 'warm']) })).toMatchObject({ outcome: 'finished', skipped: [] })
  expect(said.find((line) => line.includes('Shall "far"'))).toBeDefined()
  expect(ofType(watched.journals(), 'answer').map(({ answer, via }) => [answer, via])).toEqual([['reset', 'terminal'], ['yes', 'terminal'], ['warm', 'terminal']])
})

const SEEN = { at: '2026-11-03T02:00:00Z', text: 'no heartbeat for 60 s' }
test.each([
  ['a companion saw it stand still', { link: { ...noLink, seen: async () => [{ ...SEEN, what: 'silence' }] } }, 'hung', 'A companion at 2026-11-03T02:00:00Z: no heartbeat for 60 s.'],
  ['a companion saw silence only once it was up again', { link: { ...noLink, clock: () => ({ against: 'a companion', offset: 0, within: 0.01 }), seen: async () => [{ ...SEEN, at: '2100-01-01T00:00:00Z', what: 'silence' }] } }, 'machine reset', 'no heartbeat for 60 s'],
  ['a companion noted a code', { link: { ...noLink, seen: async () => [{ ...SEEN, what: 'POST code', text: 'POST code 55' }] } }, 'machine reset', 'POST code 55'],
  ['a person says that it hung', { terminal: quietTerminal([], ['hung', 'warm']) }, 'hung', 'person at the rig says that it stood still until somebody restarted it.'],
  ['nobody answers', { link: { ...noLink, seen: async () => Promise.reject(new Error('no answer')) } }, 'machine reset', 'the machine restarted.'],
])('a run in flight is closed as what it was where %s', async (_, more, outcome, evidence) => {
  const bench = createBench(planJson({ limits: { graceSeconds: 0 } }))
  await bench.run({ disk: diskThatFailsAt('end', 2) })
  await bench.run({ sources: createSources('boot-2'), ...more })
  expect(ofType(bench.journals(), 'resolved')[0]).toMatchObject({ outcome, evidence: expect.stringContaining(evidence) })
})

const DIES_ONCE = { workloads: [{ name: 'photo stack', command: shell('echo x >> runs; test $(wc -l < runs) = 2 && exit 4; echo "score: $(cat setting)"'), measures: [SCORE] }], design: { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 1, repeats: 3 } }
test.each<[string, MachineAfter, string]>([
  ['restarted', { kind: 'restarted', boot: 'other-2' }, 'machine reset'],
  ['stood still', { kind: 'hung', boot: 'other-2', told: ['its power was switched'] }, 'hung'],
])('a machine beside this one that %s ends the start; the next is a warm one', async (_, after, outcome) => {
  const bench = createBench(planJson(DIES_ONCE))
  expect(await bench.run({ machine: besideThis(after) })).toMatchObject({ outcome: 'finished' })
  expect(endings(bench)).toEqual(['b1.t1.w1.r1 scored', `b1.t1.w1.r2 ${outcome}`, 'b1.t1.w1.r3 scored'])
  expect(ofType(bench.journals(), 'open').map(({ bootId }) => bootId)).toEqual(['other-1', 'other-2'])
  expect(ofType(bench.journals(), 'start').map(({ how }) => how)).toEqual(['live', 'warm'])
})

test('a machine beside this one that does not come back stops the plan, and its restarts are capped within a session', async () => {
  const gone = createBench(planJson(DIES_ONCE))
  expect(await gone.run({ machine: besideThis({ kind: 'hung', boot: null, told: [] }) })).toMatchObject({ outcome: 'machine silent', message: expect.stringContaining('does not answer') })
  expect(endings(gone)).toEqual(['b1.t1.w1.r1 scored', 'b1.t1.w1.r2 hung'])
  const capped = createBench(planJson({ ...DIES_ONCE, limits: { restartsPerHour: 1 } }))
  expect(await capped.run({ machine: besideThis({ kind: 'restarted', boot: 'other-2' }) })).toMatchObject({ outcome: 'too many restarts' })
})

test('where the runner beside the machine under test went down alone, its run says nothing about the tune', async () => {
  const bench = createBench(planJson({ ...DIES_ONCE, limits: { graceSeconds: 0 } }))
  const machine = besideThis({ kind: 'same' })
  await bench.run({ machine, disk: diskThatFailsAt('end', 1) })
  await bench.run({ machine, sources: createSources('boot-2') })
  expect(ofType(bench.journals(), 'resolved')[0]).toMatchObject({ outcome: 'stopped by a person', evidence: expect.stringContaining('the machine under test stayed up') })
})

test('a ladder that failed walks back down, also after a crash, and what holds is said', async () => {
  const tunes = [1, 2, 3, 4].map((value) => tune(`step ${value}`, value))
  const workloads = [{ name: 'photo stack', command: shell('s=$(cat setting); echo x >> "under-$s"; test $s = 3 && test $(wc -l < under-3) = 2 && exit 1; echo "score: $s"'), measures: [SCORE] }]
  const ladder = { id: 'climb', kind: 'ladder', tunes: tunes.map(({ name }) => name), workload: 'photo stack', repeats: 1, start: 'live', stopAfterFailures: 1, stepDown: { repeats: 2 } }
  const bench = createBench(planJson({ tunes, workloads, design: undefined, steps: [ladder], limits: { graceSeconds: 0 } }))
  await bench.run({ disk: diskThatFailsAt('end', 4) })
  expect(await bench.run(inBoot('boot-2'))).toMatchObject({ outcome: 'finished' })
  expect(endings(bench)).toEqual(['climb/t1/r1 scored', 'climb/t2/r1 scored', 'climb/t3/r1 scored', 'climb/t4/r1 machine reset', 'climb/d3/r1 errors', 'climb/d2/r1 scored', 'climb/d2/r2 scored'])
  expect(bench.said).toContain('climb: "step 2" holds, 2 runs without a failure')
})

test('what a failed run printed is kept beside the journals, once for runs that fail alike, and its end names it', async () => {
  const script = 'echo "cell 17 differs"; head -c 100000 /dev/zero | tr "\\0" x >&2; exit 9'
  const bench = createBench(planJson({ workloads: [{ name: 'photo stack', command: shell(script), measures: [SCORE] }], design: { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 1, repeats: 2 } }))
  await bench.run()
  const [first, second] = ofType(bench.journals(), 'end').map(({ kept }) => kept ?? [])
  expect(first.map(({ what, bytes, cut }) => [what, bytes, cut])).toEqual([['output', 16, undefined], ['error output', 100_000, undefined]])
  expect(second).toEqual(first)
  const folder = join(bench.rigFolder, 'kept')
  expect(readdirSync(folder).toSorted()).toEqual(first.map(({ sha256 }) => sha256).toSorted())
  for (const { sha256 } of first) expect(createHash('sha256').update(readFileSync(join(folder, sha256))).digest('hex')).toBe(sha256)
})

test('a copied rig is told of on the terminal, over its link and in the result', async () => {
  const bench = createBench()
  await bench.run({ disk: diskThatFailsAt('end', 1) })
  const [{ path }] = readJournals(bench.rigFolder)
  const other = createBench()
  // The same plan in another folder, used once on its own; then its journal comes here.
  await bench.run({ signal: AbortSignal.abort() })
  await other.run({ disk: diskThatFailsAt('end', 1) })
  const [foreign] = readJournals(other.rigFolder)
  copyFileSync(foreign.path, join(path, '..', basename(foreign.path)))
  const live: string[] = []
  const { cautions } = await bench.run({ link: linkWith({ ended: ({ text }) => void live.push(text) }) })
  expect(cautions).toEqual([expect.stringContaining('was copied or restored and then used twice')])
  expect(live).toContain(`caution: ${cautions[0]}`)
  expect(bench.said).toContain(`caution: ${cautions[0]}`)
})

function run(id: string) {
  return { id, kind: 'run', workload: 'photo stack' }
}

function stepsJson(steps: readonly unknown[], more: Readonly<Record<string, unknown>> = {}): Readonly<Record<string, unknown>> {
  return planJson({ design: undefined, steps, ...more })
}

async function crashedOutwards(): Promise<Bench> {
  const bench = createBench(planJson(OUTWARDS))
  await bench.run({ disk: diskThatFailsAt('end', 2) })
  return bench
}

async function networkGone(): Promise<never> {
  throw new Error('the network is gone')
}

async function powerCut(): Promise<never> {
  throw new Error('the power went')
}

function inBoot(boot: string) {
  return { sources: createSources(boot) }
}

function unattended(boot: string) {
  return { attendance: 'unattended', ...inBoot(boot) } as const
}

function linkWith(live: Partial<Link['live']>): Link {
  return { ...noLink, live: { ...noLink.live, ...live } }
}

/** A machine that is well until the first trouble. */
function besideThis(after: MachineAfter): Machine {
  let boot: string | null = 'other-1'
  return {
    boot: async () => boot,
    afterTrouble: async () => {
      if (after.kind !== 'same') boot = after.boot
      return after
    },
  }
}

/** Each scored run with the tune that its in-force record names, and its score: the value that was set. */
function scores(bench: Bench): readonly string[] {
  return bench.journals().flatMap((bodies: readonly JournalBody[]) => {
    const tunes = new Map(ofType([bodies], 'in force').map((body) => [body.inForceId, body.tune]))
    const begun = new Map(ofType([bodies], 'begin').map((body) => [body.runId, tunes.get(body.inForceId)]))
    return ofType([bodies], 'end').map(({ step, runId, measures }) => `${step} ${begun.get(runId) ?? 'nothing'} ${measures[0]?.value ?? 'no score'}`)
  })
}

function endings(bench: Bench): readonly string[] {
  return bench.journals().flat().flatMap((body) => (body.type === 'end' || body.type === 'resolved' ? [`${body.step} ${body.outcome}`] : []))
}
