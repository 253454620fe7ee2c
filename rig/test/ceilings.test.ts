// Ceilings on the rig: the tighter wins, nothing passes the rig's own, and the check stands before the plan and before each start.
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { SpokenError, type Plan, type PlanCeiling, type PlanTune } from '@guardband/model'
import { expect, test } from 'vitest'
import { createCeilingCheck, readCeilings, refuseColdWork } from '../ceilings.ts'
import { readPlan } from '../read-plan.ts'
import { createBench, planJson, temporaryFolder, tune } from './kit.ts'

const VOLTAGE = { name: 'core voltage', settings: ['core voltage'], unit: 'V', highest: 1.3 } satisfies PlanCeiling
const setting = (value: number, unit: string) => ({ key: 'Core  Voltage', asked: { shape: 'scalar', value, unit } })

test.each<[string, Readonly<Record<string, unknown>>, readonly PlanCeiling[], readonly PlanCeiling[], string | null]>([
  ['within both', { settings: [setting(1299, 'mV')] }, [VOLTAGE], [VOLTAGE], null],
  ['past the plan\'s, in another unit', { settings: [setting(1301, 'mV')] }, [VOLTAGE], [], 'a ceiling of the plan'],
  ['past the plan\'s with a reason', { settings: [setting(1.31, 'V')], override: { reason: 'chilled plate', by: 'Mara' } }, [VOLTAGE], [], null],
  ['past the rig\'s own', { settings: [setting(1.31, 'V')] }, [], [VOLTAGE], "one of this rig's own ceilings, which no plan passes"],
  ['past the rig\'s own, whatever the plan says', { settings: [setting(1.31, 'V')], override: { reason: 'chilled plate', by: 'Mara' } }, [VOLTAGE], [VOLTAGE], "one of this rig's own"],
  ['within the plan\'s, past the tighter one of the rig', { settings: [setting(1.25, 'V')] }, [VOLTAGE], [{ ...VOLTAGE, highest: 1.2 }], "one of this rig's own"],
  ['in a unit that does not convert', { settings: [setting(1.2, 'W')] }, [VOLTAGE], [], "can't be checked"],
  ['auto, and expected past it', { settings: [{ key: 'core voltage', asked: { shape: 'auto' } }], readBack: [{ key: 'core voltage', reading: { file: 'x', pattern: '(.*)' }, expected: 1.4, unit: 'V' }] }, [VOLTAGE], [], 'a ceiling of the plan'],
  ['of memory, in a plan that lists a processor alone', { settings: [setting(1.31, 'V')] }, [{ ...VOLTAGE, slot: 'memory' }], [], 'a ceiling of the plan'],
  ['for another way of cooling', { settings: [setting(1.31, 'V')] }, [{ ...VOLTAGE, cooling: 'chilled plate' }], [], null],
])('a tune %s', (_, more, plans, own, refusal) => {
  const plan = planOf({ tunes: [{ ...tune('wide', 2), ...more }], ceilings: plans, conditions: { cooling: 'Burrow 120' } })
  const sentence = sentenceOf(() => createCeilingCheck({ plan, own: () => own })(plan.tunes[0]))
  if (refusal === null) expect(sentence).toBeNull()
  else expect(sentence).toMatch(new RegExp(`^tune "wide": it is not put in force: Core +Voltage.*${refusal}|^tune "wide": .*${refusal}`, 'i'))
})

test('a ceiling made while a plan runs holds from its next start on, and nothing of that start begins', async () => {
  const own: PlanCeiling[] = []
  const json = planJson({ tunes: [{ ...tune('narrow', 1), settings: [setting(1.1, 'V')] }, { ...tune('wide', 2), settings: [setting(1.2, 'V')] }] })
  const bench = createBench(json)
  const check = createCeilingCheck({ plan: planOf({ tunes: json['tunes'] }), own: () => own })
  const seen: string[] = []
  const ceilings = (each: PlanTune): void => {
    seen.push(each.name)
    check(each)
    own.push({ ...VOLTAGE, highest: 1.15 })
  }
  const { outcome, message } = await bench.run({ ceilings })
  expect(outcome).toBe('not approved')
  expect(message).toMatch(/1\.2 V is above the ceiling for core voltage, 1\.15 V \(one of this rig's own/)
  expect(seen).toEqual(['narrow', 'wide'])
  expect(bench.journals().flat().flatMap((body) => (body.type === 'start' ? [body.tune] : []))).toEqual(['narrow'])
})

test('cold work is not left alone', () => {
  const plan = planOf({ conditions: { coolant: -20 }, ceilings: [{ ...VOLTAGE, lowestTemperature: 5 }] })
  expect(sentenceOf(() => refuseColdWork({ plan, own: () => [] }))).toMatch(/nobody would be there, and it was run cold|nobody would be there/)
  expect(sentenceOf(() => refuseColdWork({ plan: planOf({ conditions: { coolant: 30 }, ceilings: [{ ...VOLTAGE, lowestTemperature: 5 }] }), own: () => [] }))).toBeNull()
})

test.each<[string, string | null, string]>([
  ['torn', '[{"name": "core', 'not closed'],
  ['of another form', '{"ceilings": []}', 'expected array'],
  ['with a misspelt key', '[{"name": "core voltage", "settings": ["v"], "unit": "V", "heighest": 1}]', 'heighest'],
])('a file of ceilings that is %s stops everything, for it may have held one', (_, text, why) => {
  const path = join(temporaryFolder(), 'ceilings.json')
  writeFileSync(path, text ?? '')
  expect(sentenceOf(() => readCeilings(path))).toContain(why)
})

test('a file of ceilings that is not there means none', () => {
  expect(readCeilings(join(temporaryFolder(), 'ceilings.json'))).toEqual([])
})

function planOf(more: Readonly<Record<string, unknown>>): Plan {
  const tunes = more['tunes'] ?? [tune('wide', 2)]
  return readPlan(JSON.stringify(planJson({ design: undefined, steps: [{ id: 'c1', kind: 'change', tune: 'wide', start: 'live' }], ...more, tunes })), 'plan.json')
}

function sentenceOf(work: () => unknown): string | null {
  try {
    work()
    return null
  } catch (cause) {
    if (cause instanceof SpokenError) return cause.sentence
    throw cause
  }
}
