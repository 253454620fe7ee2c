// What every driver of workloads holds to, told as tests over a whole plan: the same journal, whoever carries a run out.
import { describe, expect, test } from 'vitest'
import { ofType, planJson, createBench, diskThatFailsAt, type Bench } from './kit.ts'
import type { RunPlanOrder } from '../index.ts'

/** One way for a run to go. */
export interface Case {
  readonly workload: Readonly<Record<string, unknown>>
  /** The ports that bring it about, made anew for each session. */
  readonly order: () => Partial<RunPlanOrder>
}

export interface Conformance {
  /** Ends well, at once. */
  readonly well: Case
  /** Its measures, by name, where it has any. */
  readonly measures: Readonly<Record<string, number>>
  /** Goes on until it is told to stop; `atWork` holds once it is under way. */
  readonly endless: Case & { readonly atWork: (bench: Bench) => boolean; readonly leftAtWork: (bench: Bench) => boolean }
  /** Goes on past its time, whatever it is told; null for one that has no limit. */
  readonly late: Case | null
  /** Fails, with what it says of it. */
  readonly failing: Case & { readonly outcome: string; readonly message?: string }
  /** Counts what it went over; null for one that can't. */
  readonly counting: (Case & { readonly exposure: Readonly<Record<string, number>> }) | null
  /** Can't be carried out on this rig; the plan's outcome then, or the code that it throws. */
  readonly refused: Case & { readonly told: string }
}

const STEPS = [{ id: 'c', kind: 'change', tune: 'narrow', start: 'live' }, { id: 'r', kind: 'run', workload: 'work' }, { id: 'r2', kind: 'run', workload: 'work' }]

export function driverConformance(name: string, { well, measures, endless, late, failing, counting, refused }: Conformance): void {
  describe(`the ${name} driver`, () => {
    test('a run that ends well is begun before it and ended after it, once, with all of its measures', async () => {
      const bench = benchOf(well)
      expect(await bench.run(well.order())).toMatchObject({ outcome: 'finished' })
      const bodies = bench.journals().flat()
      expect(bodies.filter(({ type }) => type === 'begin' || type === 'end').map(({ type }) => type)).toEqual(['begin', 'end', 'begin', 'end'])
      for (const end of ofType([bodies], 'end')) {
        expect(Object.fromEntries(end.measures.map((measure) => [measure.name, measure.value]))).toEqual(measures)
        expect(end.outcome).toBe(Object.keys(measures).length === 0 ? 'passed' : 'scored')
        expect(end.message).toBeUndefined()
        expect(end.kept).toBeUndefined()
      }
    })

    test('a run that a person stops is on record as that, nothing of it is left at work, and it is carried out afresh', async () => {
      const bench = benchOf(endless)
      const stop = new AbortController()
      const running = bench.run({ ...endless.order(), signal: stop.signal })
      await until(() => endless.atWork(bench))
      stop.abort()
      expect(await running).toMatchObject({ outcome: 'stopped by a person' })
      const journals = bench.journals()
      expect(ofType(journals, 'end').map(({ step, outcome }) => [step, outcome])).toEqual([['r', 'stopped by a person']])
      expect(journals.flat().at(-1)).toMatchObject({ type: 'close', reason: 'stopped by a person' })
      expect(endless.leftAtWork(bench)).toBe(false)
      const again = new AbortController()
      const second = bench.run({ ...endless.order(), signal: again.signal })
      await until(() => ofType(bench.journalsIfAny(), 'begin').length === 2 && endless.atWork(bench))
      again.abort()
      await second
      expect(ofType(bench.journals(), 'begin').map(({ step }) => step), 'its step is still open').toEqual(['r', 'r'])
    })

    test('a journal that fails during the run ends it, and nothing is written after', async () => {
      const bench = benchOf(endless)
      const disk = diskThatFailsAt('heartbeat', 1)
      expect(await bench.run({ ...endless.order(), disk, heartbeatSeconds: 0.2 })).toMatchObject({ outcome: 'journal failed' })
      expect(disk.callsAfterFailure()).toEqual([])
      expect(ofType(bench.journals(), 'end')).toEqual([])
      expect(endless.leftAtWork(bench)).toBe(false)
    })

    test('heartbeats bound the time of a crash in it', async () => {
      const bench = benchOf(endless)
      const stop = new AbortController()
      const running = bench.run({ ...endless.order(), signal: stop.signal, heartbeatSeconds: 0.05 })
      await until(() => ofType(bench.journalsIfAny(), 'heartbeat').length >= 2)
      stop.abort()
      await running
      const elapsed = ofType(bench.journals(), 'heartbeat').map((beat) => beat.elapsed)
      expect(elapsed).toEqual(elapsed.toSorted((a, b) => a - b))
    })

    if (late !== null) test('a run past its time hangs, and the plan goes on', async () => {
      const bench = benchOf(late)
      expect(await bench.run(late.order())).toMatchObject({ outcome: 'finished' })
      const [end] = ofType(bench.journals(), 'end')
      expect(end).toMatchObject({ outcome: 'hung', measures: [] })
      expect(end.message).toMatch(/ended/)
    })

    test('a failure is an outcome, and the next run goes on', async () => {
      const bench = benchOf(failing)
      expect(await bench.run(failing.order())).toMatchObject({ outcome: 'finished' })
      expect(ofType(bench.journals(), 'end').map(({ step, outcome }) => [step, outcome])).toEqual([['r', failing.outcome], ['r2', failing.outcome]])
      expect(ofType(bench.journals(), 'end')[0].message).toBe(failing.message)
    })

    if (counting !== null) test('what it went over is on record', async () => {
      const bench = benchOf(counting)
      await bench.run(counting.order())
      expect(ofType(bench.journals(), 'end')[0].exposure).toEqual(counting.exposure)
    })

    test('what can not be carried out here is refused before its run begins', async () => {
      const bench = benchOf(refused)
      const result = await bench.run(refused.order()).then(({ outcome }) => outcome, (cause: { readonly code?: string }) => cause.code)
      expect(result).toBe(refused.told)
      expect(ofType(bench.journalsIfAny(), 'begin')).toEqual([])
    })
  })
}

function benchOf({ workload }: Case): Bench & { readonly journalsIfAny: Bench['journals'] } {
  const bench = createBench(planJson({ workloads: [{ name: 'work', ...workload }], design: undefined, steps: STEPS, limits: { crashesPerTune: 100 } }))
  return {
    ...bench,
    journalsIfAny: () => {
      try {
        return bench.journals()
      } catch {
        // Refused before there was a folder.
        return []
      }
    },
  }
}

async function until(condition: () => boolean): Promise<void> {
  while (!condition()) await new Promise((resolve) => setTimeout(resolve, 10))
}
