// Tunes as people ask about them: what each changes, what came of it in its starts, and how it differs from another or from what was in force.
import { expect, test } from 'vitest'
import { createIdFactory, type LabRecord, type Setting } from '@guardband/model'
import { TUNE_ROUTES } from '@guardband/model/api/tunes'
import { createLab, settingsKnown, startsToName, tuneDifference, tuneList, tuneWhole, type Lab } from '../index.ts'
import { CLOCK_START, seededFill, temporaryFolder, testSources } from './support.ts'

const newId = createIdFactory({ now: () => CLOCK_START, fillRandom: seededFill(9) })
const ids = { part: newId(), sample: newId(), rig: newId(), assembly: newId(), base: newId(), quick: newId(), cold: newId(), held: newId(), fell: newId(), fallen: newId(), ceiling: newId() }
const scalar = (key: string, value: number, unit: string): Setting => ({ key, scope: { level: 'package' }, asked: { shape: 'scalar', value, unit } })

function lab(): Lab {
  const records: readonly LabRecord[] = [
    { kind: 'part', id: ids.part, name: 'Quillon 14', slot: 'processor', prices: [] },
    { kind: 'sample', id: ids.sample, partId: ids.part, label: 'Q14-01', origin: 'retail', picked: 'at random', status: 'bench' },
    { kind: 'rig', id: ids.rig, name: 'north bench' },
    { kind: 'assembly', id: ids.assembly, rigId: ids.rig, since: '2026-11-01T08:00:00Z', slots: [{ slot: 'processor', sampleId: ids.sample }] },
    { kind: 'ceiling', id: ids.ceiling, name: 'core voltage', settings: ['core voltage'], unit: 'V', highest: 1.4 },
    { kind: 'tune', id: ids.base, name: 'House', settings: [scalar('package power limit', 95, 'W'), scalar('core voltage', 1250, 'mV'), { key: 'memory voltage', scope: { level: 'package' }, asked: { shape: 'auto' } }] },
    { kind: 'tune', id: ids.quick, name: 'Quick', baseId: ids.base, settings: [scalar('package power limit', 120, 'W')] },
    { kind: 'start', id: ids.cold, rigId: ids.rig, assemblyId: ids.assembly, tuneId: ids.quick, at: '2026-11-05T09:00:00Z', how: 'cold', result: 'started', conditions: {} },
    {
      kind: 'in force', id: ids.held, startId: ids.cold, tuneId: ids.quick, known: 'read back',
      settings: [
        { key: 'core voltage', scope: { level: 'package' }, value: { shape: 'scalar', value: 1.3, unit: 'V' }, known: 'read back' },
        { key: 'memory voltage', scope: { level: 'package' }, value: { shape: 'scalar', value: 1.35, unit: 'V' }, known: 'read back' },
      ],
    },
    { kind: 'start', id: ids.fell, rigId: ids.rig, assemblyId: ids.assembly, tuneId: ids.quick, at: '2026-11-05T10:00:00Z', how: 'cold', result: 'fallback start', conditions: {} },
    { kind: 'in force', id: ids.fallen, startId: ids.fell, known: 'seen by a person', settings: [] },
  ]
  return createLab(temporaryFolder(), { name: 'Hollin & Pike', currency: 'EUR', records }, testSources())
}

test('the list says what each tune changes on its base, in words', async () => {
  const open = lab()
  expect(tuneList(open).map(({ name, baseName, words, own, all }) => ({ name, baseName, words, own, all }))).toEqual([
    { name: 'House', baseName: null, words: 'asks for 3 settings', own: 3, all: 3 },
    { name: 'Quick', baseName: 'House', words: 'package power limit +25 W to 120 W', own: 1, all: 3 },
  ])
  expect(TUNE_ROUTES.tuneList.output.safeParse({ rows: tuneList(open) }).success).toBe(true)
  await open.close()
})

test('a tune whole: where each setting comes from, how far below its ceiling, what it came to, and which starts came up as something else', async () => {
  const open = lab()
  const whole = tuneWhole(open, ids.quick)
  expect(TUNE_ROUTES.tune.output.safeParse(whole).error).toBeUndefined()
  expect(whole.settings.map(({ setting, from, ceiling, came }) => [setting.key, from.name, ceiling, came.map(({ value, as }) => `${value} ${as}`)])).toEqual([
    ['package power limit', 'Quick', null, []],
    ['core voltage', 'House', '0.15 V below the ceiling for core voltage, 1.4 V', ['1.3 V otherwise']],
    ['memory voltage', 'House', null, ['1.35 V chosen by the board']],
  ])
  expect(whole.asked).toMatchObject({ starts: 2, fallbacks: 1, unseen: 1 })
  expect(whole.asked.rows.map(({ instead, otherwise }) => [instead, otherwise])).toEqual([['fallback start', 0], [null, 1]])
  expect(tuneWhole(open, ids.base).above.map(({ name }) => name)).toEqual(['Quick'])
  await open.close()
})

test('a tune against a start is asked against in force; a fallback is named first', async () => {
  const open = lab()
  const found = tuneDifference(open, ids.quick, ids.cold)
  expect(TUNE_ROUTES.tuneDifference.output.safeParse(found).error).toBeUndefined()
  expect(found.applied?.sentence).toBe('Asked is not applied in 1 setting of 2: core voltage is 1.3 V (read back) where 1250 mV was asked. One more was asked for and not looked at.')
  expect(found.difference.text.split('\n')[0]).toBe(found.applied?.sentence)
  expect(tuneDifference(open, ids.quick, ids.fell).notes).toEqual(['This was a fallback start: whatever was asked for was not what ran.', 'Nobody recorded single values of what was in force in this start.'])
  expect(tuneDifference(open, ids.base, ids.cold).notes).toEqual(['That start was asked for another tune than House.'])
  expect(() => tuneDifference(open, ids.quick, ids.rig)).toThrow(expect.objectContaining({ code: 'no-tune' }))
  await open.close()
})

test('what the lab knows leaves out the figures of the tune that is being written, not its names', async () => {
  const open = lab()
  const of = (except?: string) => settingsKnown(open, except).find(({ key }) => key === 'core voltage')
  expect(of()?.seen).toEqual([{ value: 1250, unit: 'mV', tunes: 1 }])
  expect(of(ids.base)).toMatchObject({ unit: 'mV', tunes: 0, seen: [] })
  expect(startsToName(open).map(({ id, tuneName }) => [id, tuneName])).toEqual([[ids.fell, 'Quick'], [ids.cold, 'Quick']])
  await open.close()
})
