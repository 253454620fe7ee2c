// Plans: names, steps, and the balance of designs.
import * as fc from 'fast-check'
import { expect, test } from 'vitest'
import { expandDesign } from '../design.ts'
import { SpokenError } from '../errors.ts'
import { designSchema, planHash, planSchema, planSteps, type Plan } from '../plan.ts'

const change = { id: 'c1', kind: 'change', tune: 'base', start: 'live' }
const run = { id: 'r1', kind: 'run', workload: 'code build' }
const ladder = { id: 'l1', kind: 'ladder', tunes: ['base', 'tuned'], workload: 'code build', repeats: 2, start: 'live', stopAfterFailures: 1 }

test.each([
  ['a run before any change', { steps: [run, change] }, 'plan-run-first', 'plan p, step r1: a run comes before any tune is put in force. Begin with a change step.'],
  ['a run after a ladder, which closed its last start', { steps: [ladder, run] }, 'plan-run-first', 'plan p, step r1: a run comes before any tune is put in force. Begin with a change step.'],
  ['an adjust before any change', { steps: [{ id: 'a1', kind: 'adjust', tune: 'tuned' }, change] }, 'plan-run-first', 'plan p, step a1: a live change comes before any tune is put in force. Begin with a change step.'],
  ['an unknown tune', { steps: [{ ...change, tune: 'bse' }] }, 'plan-unknown-name', 'plan p, step c1: there is no tune "bse" in this plan. It has: base, tuned.'],
  ['an unknown tune of a ladder', { steps: [{ ...ladder, tunes: ['base', 'x'] }] }, 'plan-unknown-name', 'plan p, step l1: there is no tune "x" in this plan. It has: base, tuned.'],
  ['an unknown workload', { steps: [change, { ...run, workload: 'x' }] }, 'plan-unknown-name', 'plan p, step r1: there is no workload "x" in this plan. It has: code build.'],
  ['an unknown workload of a ladder', { steps: [{ ...ladder, workload: 'x' }] }, 'plan-unknown-name', 'plan p, step l1: there is no workload "x" in this plan. It has: code build.'],
  ['a step id used twice', { steps: [change, run, run] }, 'plan-step-twice', 'plan p, step r1: this step id is used twice. Give each step its own id.'],
  ['design and steps together', { design: { tunes: ['base'], workloads: ['code build'], startsPerTune: 1, repeats: 1 }, steps: [change] }, 'plan-steps', 'plan p: a plan must have either a design or steps. Keep one of the two.'],
  ['neither design nor steps', {}, 'plan-steps', 'plan p: a plan must have either a design or steps. Add one of the two.'],
  ['an unknown tune of a design', { design: { tunes: ['bse'], workloads: ['code build'], startsPerTune: 1, repeats: 1 } }, 'plan-unknown-name', 'plan p, design.tunes: there is no tune "bse" in this plan. It has: base, tuned.'],
  ['an unknown workload of a design', { design: { tunes: ['base'], workloads: ['x'], startsPerTune: 1, repeats: 1 } }, 'plan-unknown-name', 'plan p, design.workloads: there is no workload "x" in this plan. It has: code build.'],
  ['a workload that nothing carries out', { steps: [change], workloads: [{ name: 'code build' }] }, 'plan-content', 'plan p: workloads[0] must have exactly one of command, prompt and selfCheck; got none of them. Say what carries it out.'],
  ['a workload with all three', { steps: [change], workloads: [{ name: 'code build', command: { run: ['true'] }, prompt: { text: 'Do it.' }, selfCheck: { kernel: 'k', seconds: 1 } }] }, 'plan-content', 'plan p: workloads[0] must have exactly one of command, prompt and selfCheck; got all three. Keep one; what a person and a program do are two workloads.'],
  ['two tunes of one name', { steps: [change], tunes: [{ name: 'base' }, { name: 'base' }] }, 'plan-name-twice', 'plan p: two tunes are called "base". Rename one.'],
])('%s gets its sentence', (_, more, code, sentence) => {
  let fault: unknown
  try {
    planSteps(plan(more))
  } catch (cause) {
    fault = cause
  }
  expect(fault).toBeInstanceOf(SpokenError)
  expect(fault).toMatchObject({ code, sentence })
})

test('a run may follow a change, an adjust may follow a run, and a prompt may stand anywhere', () => {
  const steps = [{ id: 'p1', kind: 'prompt', text: 'Fit sample Q14-02.' }, change, run, { id: 'a1', kind: 'adjust', tune: 'tuned' }, { ...run, id: 'r2' }, ladder]
  expect(planSteps(plan({ steps }))).toEqual(steps)
})

test('a plan whose workloads have no measures, a person or a kernel to carry them out, and typed readings is sound', () => {
  const workloads = [{ name: 'code build', command: { run: ['true'] } }, { name: 'map scene', prompt: { text: 'Play it.' } }, { name: 'hash', selfCheck: { kernel: 'hash chain', seconds: 60 } }, { name: 'meter', command: { run: ['true'] }, measures: [{ name: 'power', unit: 'W', direction: 'lower is better', reading: { typed: 'What does the meter say?' } }] }]
  expect(planSteps(plan({ steps: [change, run], workloads }))).toHaveLength(2)
})

test.each(['C1', 'c 1', '-c', 'c/1', '', 'c'.repeat(65)])('%j is no step id', (id) => {
  expect(planSchema.safeParse({ ...JSON.parse(JSON.stringify(plan({}))), steps: [{ ...change, id }] }).success).toBe(false)
})

test('the plan\'s hash follows its content and not the order of its keys', () => {
  const one = plan({ steps: [change] })
  const other = planSchema.parse(Object.fromEntries(Object.entries(one).toReversed()))
  expect(planHash(other)).toBe(planHash(one))
  expect(planHash(plan({ steps: [{ ...change, tune: 'tuned' }] }))).not.toBe(planHash(one))
})

const designArbitrary = fc.record({
  tunes: fc.uniqueArray(fc.string({ minLength: 1, maxLength: 8 }).filter((name) => name.trim() === name && name !== ''), { minLength: 1, maxLength: 6 }),
  workloads: fc.uniqueArray(fc.string({ minLength: 1, maxLength: 8 }).filter((name) => name.trim() === name && name !== ''), { minLength: 1, maxLength: 4 }),
  startsPerTune: fc.integer({ min: 1, max: 8 }),
  repeats: fc.integer({ min: 1, max: 5 }),
}).map((json) => designSchema.parse(json))

test('a design unfolds to its starts and runs: each tune once a block, each workload as often in each start, ids unique and fit for a plan', () => {
  fc.assert(
    fc.property(designArbitrary, (design) => {
      const steps = expandDesign(design)
      const changes = steps.filter((step) => step.kind === 'change')
      expect(changes).toHaveLength(design.tunes.length * design.startsPerTune)
      for (let block = 0; block < design.startsPerTune; block++) {
        const held = changes.slice(block * design.tunes.length, (block + 1) * design.tunes.length).map(({ tune }) => tune)
        expect(held.toSorted()).toEqual(design.tunes.toSorted())
      }
      expect(steps).toHaveLength(changes.length * (1 + design.workloads.length * design.repeats))
      for (const [index, step] of steps.entries()) {
        if (step.kind !== 'change') continue
        const runs = steps.slice(index + 1, index + 1 + design.workloads.length * design.repeats)
        for (const workload of design.workloads) expect(runs.filter((each) => each.kind === 'run' && each.workload === workload)).toHaveLength(design.repeats)
      }
      expect(new Set(steps.map(({ id }) => id)).size).toBe(steps.length)
      for (const { id } of steps) expect(id).toMatch(/^[a-z0-9][a-z0-9.-]{0,63}$/)
    }),
  )
})

test('over each pair of blocks every tune has the same mean place, so that a linear drift cancels', () => {
  fc.assert(
    fc.property(designArbitrary, (design) => {
      const tunes = expandDesign(design).flatMap((step) => (step.kind === 'change' ? [step.tune] : []))
      const size = design.tunes.length
      for (let pair = 0; pair + 2 * size <= tunes.length; pair += 2 * size) {
        const places = tunes.slice(pair, pair + 2 * size)
        for (const tune of design.tunes) expect(places.indexOf(tune) + places.lastIndexOf(tune)).toBe(2 * size - 1)
      }
    }),
  )
})

function plan(more: Readonly<Record<string, unknown>>): Plan {
  return planSchema.parse({
    schema: 1,
    id: 'p',
    title: 'Base against tuned',
    rig: 'north bench',
    assembly: [{ slot: 'processor', part: 'Quillon 14', sample: 'Q14-01' }],
    tunes: [{ name: 'base' }, { name: 'tuned' }],
    workloads: [
      {
        name: 'code build',
        command: { run: ['true'] },
        measures: [{ name: 'time', unit: 's', direction: 'lower is better', reading: { elapsed: 'seconds' } }],
      },
    ],
    ...more,
  })
}
