import { gainSnapshotSchema, snapshotDigest } from '@guardband/model'
import { describe, expect, it } from 'vitest'
import { readScenarios, simulateLab, suiteShares } from '../index.ts'
import { realiseLab } from '../realise-lab.ts'
import type { Scenario } from '../index.ts'

const scenarios = readScenarios()
const named = (name: string): Scenario => {
  const found = scenarios.find((scenario) => scenario.name === name)
  if (found === undefined) throw new Error(`no scenario ${name}`)
  return found
}

/** Per workload: mean over samples of the mean log score over the runs of a sample on a side; higher is better; side B minus side A. */
function rawDifferences({ snapshot }: ReturnType<typeof simulateLab>): readonly number[] {
  const sideMeans = [0, 1].map((side) =>
    snapshot.workloads.map(({ direction }, workload) => {
      const bySample = new Map<number, number[]>()
      snapshot.runs.value.forEach((value, run) => {
        const start = snapshot.starts[snapshot.runs.start[run]]
        if (value === null || start.side !== side || snapshot.runs.workload[run] !== workload) return
        const logs = bySample.get(start.sample) ?? []
        logs.push(direction === 'higher is better' ? Math.log(value) : -Math.log(value))
        bySample.set(start.sample, logs)
      })
      return mean([...bySample.values()].map(mean))
    }),
  )
  return sideMeans[1].map((value, workload) => value - sideMeans[0][workload])
}

const labDigest = (scenario: Scenario, index: number): string => snapshotDigest(simulateLab(scenario, index).snapshot)
const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length
const overallOf = (scenario: Scenario, perWorkload: readonly number[]): number =>
  suiteShares(scenario.design.workloads.map(({ weight }) => weight)).reduce((sum, share, index) => sum + share * perWorkload[index], 0)

describe('scenario files', () => {
  it('are at least fourteen, each named after itself with its own seed', () => {
    expect(scenarios.length).toBeGreaterThanOrEqual(14)
    expect(new Set(scenarios.map(({ seed }) => seed)).size).toBe(scenarios.length)
  })

  it('waive the upper bar only where scores tie or a side has two samples', () => {
    for (const { name, design, judge } of scenarios) {
      if (judge.noUpperLimit === undefined) continue
      const ties = design.workloads.some(({ resolution }) => resolution !== undefined)
      expect(ties || Math.min(design.starts.a.length, design.starts.b.length) === 2, name).toBe(true)
    }
  })
})

describe.each(scenarios)('$name', (scenario) => {
  it('emits snapshots that the schema takes', () => {
    expect(gainSnapshotSchema.safeParse(simulateLab(scenario, 0).snapshot).error).toBeUndefined()
  })

  it('emits the same lab for the same index and another for the next', () => {
    expect(labDigest(scenario, 3)).toBe(labDigest(scenario, 3))
    expect(labDigest(scenario, 3)).not.toBe(labDigest(scenario, 4))
  })

  it('keeps books on its truth: without noise, drift, rounding and holes the raw log means are the truth', () => {
    const still: Scenario = {
      ...scenario,
      drift: 0,
      missing: 0,
      failed: 0,
      spreads: { ...scenario.spreads, start: 0, startWorkload: 0, repeat: 0 },
      design: { ...scenario.design, workloads: scenario.design.workloads.map((workload) => ({ ...workload, resolution: undefined })) },
    }
    const lab = simulateLab(still, 5)
    const raw = rawDifferences(lab)
    // Exp and log of a score each cost about one unit in the last place.
    raw.forEach((difference, workload) => expect(difference).toBeCloseTo(lab.truth.theseSamples.perWorkload[workload], 12))
    expect(overallOf(scenario, raw)).toBeCloseTo(lab.truth.theseSamples.overall, 12)
    expect(lab.truth.samplesLikeThese.perWorkload).toEqual(scenario.design.workloads.map(({ gain }) => gain))
  })
})

describe('known errors', () => {
  it('equal the closed form on a whole table of the same samples', () => {
    const scenario = named('gain-sample-by-side')
    const { known } = simulateLab(scenario, 0)
    const s = scenario.spreads
    const [samples, starts, workloads] = [4, 4, 6]
    const perStart = s.start ** 2 + s.startWorkload ** 2 / workloads + s.repeat ** 2 / scenario.design.repeats / workloads
    expect(known.theseSamples?.overall.se).toBeCloseTo(Math.sqrt((2 * perStart) / (samples * starts)), 12)
    expect(known.theseSamples?.overall.df).toBeCloseTo(2 * samples * (starts - 1), 9)
    const perSample = s.sampleSide ** 2 + s.sampleSideWorkload ** 2 / workloads + perStart / starts
    expect(known.samplesLikeThese?.overall.se).toBeCloseTo(Math.sqrt((2 * perSample) / samples), 12)
    expect(known.samplesLikeThese?.overall.df).toBe(samples - 1)
    const oneStart = s.start ** 2 + s.startWorkload ** 2 + s.repeat ** 2 / scenario.design.repeats
    expect(known.theseSamples?.perWorkload[2].se).toBeCloseTo(Math.sqrt((2 * oneStart) / (samples * starts)), 12)
  })

  it('equal the closed form for different samples with unequal counts', () => {
    const scenario = named('gain-unequal-counts')
    const { known } = simulateLab(scenario, 0)
    const s = scenario.spreads
    const perSample = s.sample ** 2 + s.sampleSide ** 2 + (s.sampleWorkload ** 2 + s.sampleSideWorkload ** 2 + s.startWorkload ** 2 / 4 + s.repeat ** 2 / 8) / 6 + s.start ** 2 / 4
    expect(known.samplesLikeThese?.overall.se).toBeCloseTo(Math.sqrt(perSample / 3 + perSample / 6), 12)
    expect(known.samplesLikeThese?.overall.df).toBeCloseTo((1 / 3 + 1 / 6) ** 2 / (1 / 9 / 2 + 1 / 36 / 5), 9)
  })

  it('add the variance of a shared step where scores tie', () => {
    const scenario = named('gain-ties')
    const s = scenario.spreads
    const start = (s.start ** 2 + s.startWorkload ** 2 + s.repeat ** 2 / 2) / 4
    // The step in logs, from the levels that the lab was drawn with; side B scores higher by the gain.
    const lab = realiseLab(scenario, 0)
    const steps = [0, 1].map((side) => 20 / Math.exp(lab.levels[0] + side * scenario.design.workloads[0].gain))
    const expected = steps.reduce((sum, step) => sum + (step ** 2 / 12 + start) / 4, 0)
    expect(simulateLab(scenario, 0).known.theseSamples?.perWorkload[0].se).toBeCloseTo(Math.sqrt(expected), 12)
  })

  it.each([
    { name: 'gain-leaning-one-sample', samples: 1 },
    { name: 'gain-leaning-order', samples: 4 },
  ])('equal the closed form of a line taken out where one side ran later: $name', ({ name, samples }) => {
    const scenario = named(name)
    const s = scenario.spreads
    const perStart = s.start ** 2 + s.startWorkload ** 2 / 6 + s.repeat ** 2 / scenario.design.repeats / 6
    // Places of A A A A B A B B B B: means 2.2 and 6.8, squares about them 14.8 each; analysis of covariance adds distance^2 / squares to 1/n + 1/n.
    const lean = 4.6 ** 2 / (samples * 2 * 14.8)
    const { known } = simulateLab(scenario, 0)
    expect(known.theseSamples?.overall.se).toBeCloseTo(Math.sqrt(perStart * (2 / (5 * samples) + lean)), 12)
    expect(known.theseSamples?.overall.df).toBeCloseTo(8 * samples - 1, 9)
  })

  it('weigh what the line and what the level cost samples like these, each with its degrees of freedom', () => {
    const scenario = named('gain-leaning-order')
    const s = scenario.spreads
    const perStart = s.start ** 2 + s.startWorkload ** 2 / 6 + s.repeat ** 2 / scenario.design.repeats / 6
    const perSample = s.sample ** 2 + s.sampleWorkload ** 2 / 6 + perStart / 10
    // The line is seen among the starts of a sample on a side (squares 4 x 2 x 14.8) and, by one who knows their spread, among the samples (ten places apart: 500).
    const level = (2 * perStart) / 20
    const line = 4.6 ** 2 / (118.4 / perStart + 500 / perSample)
    const figure = simulateLab(scenario, 0).known.samplesLikeThese?.overall
    expect(figure?.se).toBeCloseTo(Math.sqrt(level + line), 12)
    expect(figure?.df).toBeCloseTo((level + line) ** 2 / (level ** 2 / 3 + line ** 2 / 31), 6)
  })

  it('are null where the design leaves nothing to tell the error from', () => {
    expect(simulateLab(named('gain-one-start'), 0).known.theseSamples).toBeNull()
    expect(simulateLab(named('gain-one-sample'), 0).known.samplesLikeThese).toBeNull()
  })

  const LABS = 1500
  it.each(['gain-sample-by-side', 'gain-unequal-noise', 'gain-different-samples', 'gain-heavy-tails', 'gain-partial-ties', 'gain-drift'])(
    'agree with the scatter of plain means about the truth over many labs of %s',
    (name) => {
      const scenario = named(name)
      const squares = { these: 0, like: 0 }
      let known: ReturnType<typeof simulateLab>['known'] | undefined
      for (let index = 0; index < LABS; index++) {
        const lab = simulateLab(scenario, index)
        known = lab.known
        const estimate = overallOf(scenario, rawDifferences(lab))
        squares.these += (estimate - lab.truth.theseSamples.overall) ** 2
        squares.like += (estimate - lab.truth.samplesLikeThese.overall) ** 2
      }
      // The mean square of LABS normal errors has a relative standard error of sqrt(2 / LABS) = 3.7 %; heavy tails and drift add a little: 4.5 of them.
      const tolerance = 4.5 * Math.sqrt(2 / LABS)
      expect(Math.abs(squares.these / LABS / (known?.theseSamples?.overall.se ?? 0) ** 2 - 1)).toBeLessThan(tolerance)
      expect(Math.abs(squares.like / LABS / (known?.samplesLikeThese?.overall.se ?? 0) ** 2 - 1)).toBeLessThan(tolerance)
    },
  )

  it('grow when cells are missing, by less than dropping the starts that miss one would cost', () => {
    const scenario = named('gain-missing-cells')
    const whole = simulateLab({ ...scenario, missing: 0 }, 0).known.theseSamples?.overall.se ?? 0
    const holed = simulateLab(scenario, 0).known.theseSamples?.overall.se ?? 0
    expect(holed).toBeGreaterThan(whole)
    expect(holed).toBeLessThan(1.25 * whole)
  })
})
