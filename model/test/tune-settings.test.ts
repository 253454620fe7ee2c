// A tune as a whole: its own settings over its bases.
import { expect, test } from 'vitest'
import { tuneSchema, type Setting, type Tune } from '../records/tune.ts'
import { askedValues, settingsOfTune } from '../tune-settings.ts'
import { makeId } from './make-records.ts'

function tune(number: number, settings: readonly unknown[], baseId?: string): Tune {
  return tuneSchema.parse({ kind: 'tune', id: makeId(number), name: `tune ${number}`, settings, ...(baseId === undefined ? {} : { baseId }) })
}

const volts = (value: number): Setting['asked'] => ({ shape: 'scalar', value, unit: 'V' })
const look = (...tunes: readonly Tune[]) => (id: string) => tunes.find((one) => one.id === id)

test('a setting of its own replaces that of the base for the same key and scope, whatever the case', () => {
  const base = tune(1, [{ key: 'Core voltage', asked: volts(1.2) }, { key: 'power limit', asked: { shape: 'scalar', value: 65, unit: 'W' } }])
  const middle = tune(2, [{ key: 'core  voltage', asked: volts(1.25) }, { key: 'core voltage', scope: { level: 'core', index: '3' }, asked: volts(1.3) }], base.id)
  const top = tune(3, [{ key: 'power limit', asked: { shape: 'auto' } }], middle.id)
  expect(settingsOfTune(top, look(base, middle)).map(({ key, scope, asked, fromTuneId }) => [key, scope.level, asked, fromTuneId])).toEqual([
    ['core  voltage', 'machine', volts(1.25), middle.id],
    ['power limit', 'machine', { shape: 'auto' }, top.id],
    ['core voltage', 'core', volts(1.3), middle.id],
  ])
  expect(askedValues(settingsOfTune(top, look(base, middle))).map(({ value }) => value)).toEqual([volts(1.25), volts(1.3)])
})

test('"unchanged" leaves the word of the base, and stands where there is none', () => {
  const base = tune(1, [{ key: 'a', asked: volts(1.2) }])
  const top = tune(2, [{ key: 'a', asked: { shape: 'unchanged' } }, { key: 'b', asked: { shape: 'unchanged' } }], base.id)
  expect(settingsOfTune(top, look(base)).map(({ key, asked }) => [key, asked])).toEqual([['a', volts(1.2)], ['b', { shape: 'unchanged' }]])
  expect(settingsOfTune(top, look()).map(({ asked }) => asked.shape)).toEqual(['unchanged', 'unchanged'])
})

test('tunes that are based on each other in a ring are told of, not followed', () => {
  const one = tune(1, [], makeId(2))
  const two = tune(2, [], makeId(1))
  expect(() => settingsOfTune(one, look(one, two))).toThrow('its base tunes lead back to "tune 1".')
})
