// Further from base than a tune that crashed: by scalar, table and unit, with the rules that must hold for all tunes.
import { array, assert, integer, property, record } from 'fast-check'
import { expect, test } from 'vitest'
import type { PlanTune, Setting } from '@guardband/model'
import { furtherFromBase, notComparable } from '../further-from-base.ts'

test.each<[string, Setting['asked'], Setting['asked'], Setting['asked'], boolean]>([
  ['further in the same direction', watts(90), watts(95), watts(100), true],
  ['as far', watts(90), watts(95), watts(95), false],
  ['nearer', watts(90), watts(95), watts(92), false],
  ['in the other direction', watts(90), watts(95), watts(70), false],
  ['where the crashed one stood at base', watts(90), watts(90), watts(91), true],
  ['in another unit, and no further', { shape: 'scalar', value: 1.2, unit: 'V' }, { shape: 'scalar', value: 1250, unit: 'mV' }, { shape: 'scalar', value: 1.25, unit: 'V' }, false],
  ['in another unit, and further', { shape: 'scalar', value: 1.2, unit: 'V' }, { shape: 'scalar', value: 1250, unit: 'mV' }, { shape: 'scalar', value: 1.26, unit: 'V' }, true],
  ['in one element of a table', ratios(48, 47), ratios(50, 49), ratios(49, 50), true],
  ['in no element of a table', ratios(48, 47), ratios(50, 49), ratios(50, 48), false],
  ['a mode', { shape: 'mode', mode: 'quiet' }, { shape: 'mode', mode: 'even' }, { shape: 'mode', mode: 'loud' }, false],
  ['"auto"', watts(90), watts(95), { shape: 'auto' }, false],
  ['a unit that does not convert', watts(90), watts(95), { shape: 'scalar', value: 900, unit: 'MHz' }, false],
])('%s', (_, base, crashed, own, further) => {
  expect(furtherFromBase(tuneOf(own), tuneOf(crashed), tuneOf(base))).toBe(further ? 'limit' : null)
})

test('what can\'t be measured from base is named, and what stands as in base is not', () => {
  const base = asks(['limit', watts(90)], ['fan curve', { shape: 'mode', mode: 'even' }], ['clock', { shape: 'auto' }], ['board', { shape: 'mode', mode: 'plain' }])
  const own = asks(['limit', watts(95)], ['fan curve', { shape: 'mode', mode: 'loud' }], ['clock', { shape: 'scalar', value: 5, unit: 'GHz' }], ['board', { shape: 'mode', mode: 'plain' }], ['held', { shape: 'unchanged' }])
  expect(notComparable(own, base)).toEqual(['fan curve', 'clock'])
  expect(notComparable(base, base)).toEqual([])
})

test('no tune is further than itself, half of the way is no further, and setting by setting the same comes out', () => {
  const step = integer({ min: -20, max: 20 }).map((tenths) => tenths / 10)
  const setting = record({ from: integer({ min: 0, max: 1000 }).map((tenths) => tenths / 10), own: step, crashed: step })
  assert(
    property(array(setting, { minLength: 1, maxLength: 4 }), (settings) => {
      const made = (moved: readonly number[]): PlanTune => ({
        name: 'tune', readBack: [],
        settings: settings.map(({ from }, place): Setting => ({ key: `limit ${place}`, scope: { level: 'machine' }, asked: { shape: 'scalar', value: from + moved[place], unit: 'W' } })),
      })
      const base = made(settings.map(() => 0))
      const tune = made(settings.map(({ own }) => own))
      const crashed = made(settings.map((each) => each.crashed))
      expect(furtherFromBase(tune, tune, base)).toBeNull()
      expect(furtherFromBase(base, crashed, base)).toBeNull()
      expect(furtherFromBase(made(settings.map((each) => each.crashed / 2)), crashed, base)).toBeNull()
      const further = settings.findIndex((each) => Math.abs(each.own) > Math.abs(each.crashed) && each.own * each.crashed >= 0)
      expect(furtherFromBase(tune, crashed, base)).toBe(further === -1 ? null : `limit ${further}`)
    }),
  )
})

function watts(value: number): Setting['asked'] {
  return { shape: 'scalar', value, unit: 'W' }
}

function ratios(...values: readonly number[]): Setting['asked'] {
  return { shape: 'table', rows: values.map((value, place): [number, number] => [place + 1, value]), unit: '1' }
}

function tuneOf(asked: Setting['asked']): PlanTune {
  return asks(['limit', asked])
}

function asks(...settings: readonly (readonly [string, Setting['asked']])[]): PlanTune {
  return { name: 'tune', readBack: [], settings: settings.map(([key, asked]) => ({ key, scope: { level: 'machine' }, asked })) }
}
