// Ceilings by their own rule: both bounds, every point, units converted, and what can't be checked said so.
import { expect, test } from 'vitest'
import { ceilingFindings, type CeilingFinding, type CeilingPart } from '../ceilings.ts'
import { ceilingSchema, type Ceiling } from '../records/safety.ts'
import type { SettingValue } from '../records/tune.ts'
import { makeId } from './make-records.ts'

const machine = { level: 'machine' } as const

function ceiling(more: Partial<Ceiling> = {}, number = 1): Ceiling {
  return ceilingSchema.parse({ kind: 'ceiling', id: makeId(number), name: 'core voltage', settings: ['Core voltage', 'vcore'], unit: 'V', highest: 1.3, ...more })
}

function sentences(value: SettingValue, ceilings: readonly Ceiling[] = [ceiling()], part?: CeilingPart, key = 'core voltage'): readonly string[] {
  return ceilingFindings({ settings: [{ key, scope: machine, value }], ceilings, ...(part === undefined ? {} : { part }) }).map(({ sentence }) => sentence)
}

const volts = (value: number): SettingValue => ({ shape: 'scalar', value, unit: 'V' })

test('a value at the ceiling holds, one above it is found, in whatever unit it was given', () => {
  expect(sentences(volts(1.3))).toEqual([])
  expect(sentences({ shape: 'scalar', value: 1300, unit: 'mV' })).toEqual([])
  expect(sentences(volts(1.31))).toEqual(['core voltage 1.31 V is above the ceiling for core voltage, 1.3 V.'])
  expect(sentences({ shape: 'scalar', value: 1301, unit: 'mV' })).toEqual(['core voltage 1301 mV is above the ceiling for core voltage, 1.3 V.'])
  expect(sentences({ shape: 'scalar', value: 1.31, unit: 'V' }, [ceiling({ unit: 'mV', highest: 1300, source: 'house rule 4' })])).toEqual(['core voltage 1.31 V is above the ceiling for core voltage, 1300 mV (house rule 4).'])
})

// 0.1 V x 3 and its like: conversions of every millivolt up to 2 V must not be found past their own figure.
test('the rounding of a conversion passes no ceiling, and one more millivolt does', () => {
  for (let mv = 1; mv <= 2000; mv++) {
    expect(sentences({ shape: 'scalar', value: mv, unit: 'mV' }, [ceiling({ highest: mv / 1000, lowest: mv / 1000 })])).toEqual([])
    expect(sentences({ shape: 'scalar', value: mv + 1, unit: 'mV' }, [ceiling({ highest: mv / 1000 })])).toHaveLength(1)
  }
})

test('every point of a table or curve is looked at, and the one furthest past is named', () => {
  expect(sentences({ shape: 'table', rows: [[1, 1.31], [8, 1.4], [16, 1.2]], unit: 'V' })).toEqual(['core voltage 1.4 V at 8 is above the ceiling for core voltage, 1.3 V.'])
  expect(sentences({ shape: 'curve', points: [[900, 0.4], [2100, 1.31]], unit: 'V' }, [ceiling({ lowest: 0.6 })])).toEqual(['core voltage 0.4 V at 900 is below the lowest value for core voltage, 0.6 V.'])
  expect(sentences({ shape: 'table', rows: [[1, 1.3], [8, 1.25]], unit: 'V' })).toEqual([])
})

test('keys are compared without case or blanks, and other keys are left alone', () => {
  expect(sentences(volts(1.4), undefined, undefined, '  CORE   Voltage ')).toHaveLength(1)
  expect(sentences(volts(1.4), undefined, undefined, 'VCORE')).toHaveLength(1)
  expect(sentences(volts(1.4), undefined, undefined, 'memory voltage')).toEqual([])
})

function found(value: SettingValue): readonly CeilingFinding[] {
  return ceilingFindings({ settings: [{ key: 'vcore', scope: { level: 'core', index: '3' }, value }], ceilings: [ceiling()] })
}

test('what can not be checked is itself found, and told from what passes', () => {
  expect(found({ shape: 'scalar', value: 1.2, unit: 'W' })).toEqual([
    { what: 'unchecked', ceilingId: makeId(1), domain: 'core voltage', key: 'vcore', scope: { level: 'core', index: '3' }, sentence: "vcore of core 3 can't be checked against the ceiling for core voltage: it is given in W, the ceiling in V." },
  ])
  expect(found({ shape: 'scalar', value: 1.2, unit: '' })[0]?.sentence).toContain('given in no unit, the ceiling in V.')
  expect(found({ shape: 'mode', mode: 'quiet' })[0]).toMatchObject({ what: 'unchecked', sentence: 'vcore of core 3 can\'t be checked against the ceiling for core voltage: it is set to "quiet", which is no figure.' })
  expect(found(volts(1.4))[0]?.what).toBe('past')
})

test('ceilings for the part, for its slot and for all hold together, the narrowest named first', () => {
  const all = ceiling({ highest: 1.3 }, 1)
  const slot = ceiling({ name: 'processor voltage', highest: 1.25, slot: 'processor' }, 2)
  const part = ceiling({ name: 'Quillon voltage', highest: 1.28, partId: makeId(9) }, 3)
  const domains = (value: number, of?: CeilingPart) => ceilingFindings({ settings: [{ key: 'vcore', scope: machine, value: volts(value) }], ceilings: [all, slot, part], ...(of === undefined ? {} : { part: of }) }).map(({ domain }) => domain)
  expect(domains(1.35, { partId: makeId(9), slot: 'processor' })).toEqual(['Quillon voltage', 'processor voltage', 'core voltage'])
  expect(domains(1.26, { partId: makeId(9), slot: 'processor' })).toEqual(['processor voltage'])
  expect(domains(1.35, { partId: makeId(8), slot: 'memory' })).toEqual(['core voltage'])
  expect(domains(1.35)).toEqual(['Quillon voltage', 'processor voltage', 'core voltage'])
})

test('a ceiling for one way of cooling, or from a temperature on, holds there and where nobody says', () => {
  const air = [ceiling({ cooling: 'Air' })]
  expect([sentences(volts(1.4), air, { cooling: 'air' }), sentences(volts(1.4), air), sentences(volts(1.4), air, { cooling: 'water' })].map(({ length }) => length)).toEqual([1, 1, 0])
  const band = [ceiling({ lowestTemperature: 0, highestTemperature: 60 })]
  expect([30, 60, 90, 0, -1].map((temperature) => sentences(volts(1.4), band, { temperature }).length)).toEqual([1, 1, 1, 1, 0])
})

test('with hours, the lower figure is where counting begins and bounds nothing', () => {
  expect(sentences(volts(1), [ceiling({ lowest: 1.2, hours: 10 })])).toEqual([])
  expect(sentences(volts(1), [ceiling({ lowest: 1.2 })])).toHaveLength(1)
})
