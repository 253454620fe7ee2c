// The numbered sheet: what a person is to change, from what is in force now.
import { planSchema, type JournalBody, type Plan, type PlanTune } from '@guardband/model'
import { expect, test } from 'vitest'
import { changeLines, inForceNow, sheetLines, type InForceNow } from '../change-sheet.ts'
import { playPeople } from './answers.ts'
import { ONE_START, SCORE, createBench, planJson, quietTerminal, roomyDisk, shell } from './kit.ts'

const scalar = (key: string, value: number, unit: string, scope?: Readonly<Record<string, string>>) => ({ key, ...(scope === undefined ? {} : { scope }), asked: { shape: 'scalar', value, unit } })
const mode = (key: string, word: string) => ({ key, asked: { shape: 'mode', mode: word } })
const auto = (key: string) => ({ key, asked: { shape: 'auto' } })
const unchanged = (key: string) => ({ key, asked: { shape: 'unchanged' } })

const STOCK = { name: 'stock', settings: [scalar('core ratio', 50, ''), mode('fan policy', 'quiet')] }
const FAST = { name: 'fast', settings: [scalar('core ratio', 54, ''), scalar('core voltage', 1.25, 'V'), scalar('offset', -20, 'mV', { level: 'core', index: '3' })] }
const OTHER = { name: 'other', settings: [scalar('core voltage', 1250, 'mV'), auto('data rate')] }
const LEAVING = { name: 'leaving', settings: [unchanged('core voltage'), unchanged('core ratio')] }

test.each<[string, string | null, boolean, readonly (readonly [string, string, string | null, string])[]]>([
  ['fast', 'stock', true, [['core ratio', '', '50', '54'], ['core voltage', '', null, '1.25 V'], ['offset', 'core 3', null, '−20 mV']]],
  ['stock', 'fast', true, [['core ratio', '', '54', '50'], ['core voltage', '', '1.25 V', 'auto'], ['offset', 'core 3', '−20 mV', 'auto']]],
  // 1250 mV is 1.25 V; the ratio goes back to base's, the offset to auto as the base says nothing of it.
  ['other', 'fast', true, [['core ratio', '', '54', '50'], ['data rate', '', null, 'auto'], ['offset', 'core 3', '−20 mV', 'auto']]],
  ['other', 'fast', false, [['data rate', '', null, 'auto'], ['core ratio', '', '54', 'auto'], ['offset', 'core 3', '−20 mV', 'auto']]],
  // Left unchanged: the voltage stays whatever it is. The ratio is base's, which "unchanged" leaves standing.
  ['leaving', 'fast', true, [['core ratio', '', '54', '50'], ['offset', 'core 3', '−20 mV', 'auto']]],
  ['leaving', 'fast', false, [['offset', 'core 3', '−20 mV', 'auto']]],
  ['fast', 'fast', true, []],
  ['fast', null, true, [['core ratio', '', null, '54'], ['fan policy', '', null, 'quiet'], ['core voltage', '', null, '1.25 V'], ['offset', 'core 3', null, '−20 mV']]],
])('to "%s" from %s, with a base: %s', (name, from, based, expected) => {
  const plan = planOf(based)
  expect(changeLines(plan, tuneOf(plan, name), { tune: from, observed: [] }).map(({ key, where, from, to }) => [key, where, from, to])).toEqual(expected)
})

test('lines are numbered from 1', () => {
  const plan = planOf(true)
  expect(changeLines(plan, tuneOf(plan, 'fast'), { tune: 'stock', observed: [] }).map(({ number }) => number)).toEqual([1, 2, 3])
})

test('a tune whose settings the plan does not list has no sheet, unless the plan names a base that it stands on', () => {
  const plan = planOf(false, [{ name: 'unlisted', settings: [] }])
  expect(changeLines(plan, tuneOf(plan, 'unlisted'), { tune: 'fast', observed: [] })).toEqual([])
})

const read = (tune: string | null, key: string, found: number | string, matches: boolean): InForceNow => ({ tune, observed: [{ key, expected: 0, found, unit: key === 'data rate' ? 'MT/s' : 'V', matches }] })

test('readings fill in what the tune in force left open, and count alone where no tune is in force', () => {
  const plan = planOf(false)
  const from = (name: string, now: InForceNow, key: string) => changeLines(plan, tuneOf(plan, name), now).find((line) => line.key === key)?.from
  expect(from('fast', read(null, 'Core Voltage', 1.1, false), 'core voltage')).toBe('1.1 V')
  expect(from('fast', read(null, 'Core Voltage', 1.1, false), 'core ratio')).toBeNull()
  // Within its tolerance what was asked is in force: a reading of 1.248 is no other setting.
  expect(from('fast', read('fast', 'core voltage', 1.248, true), 'core voltage')).toBeUndefined()
  expect(from('fast', read('other', 'data rate', 6200, true), 'data rate')).toBeUndefined()
  expect(changeLines(plan, { ...tuneOf(plan, 'fast'), settings: planSchema.shape.tunes.parse([{ name: 'x', settings: [scalar('data rate', 6400, 'MT/s')] }])[0].settings }, read('other', 'data rate', 6200, true)).find(({ key }) => key === 'data rate')?.from).toBe('auto (6200 MT/s)')
  // A person vouched against it.
  expect(from('other', read('leaving', 'core voltage', 1.1, false), 'core voltage')).toBeNull()
})

const AT = '2026-11-05T09:00:00.000Z'
const held = (tune: string | null): JournalBody => ({ type: 'in force', at: AT, inForceId: '019b2c3d-0000-7000-8000-00000000000a', tune, known: 'read back', observed: [] })
const putting: JournalBody = { type: 'note', at: AT, text: 'putting the tune in force for c2' }
const close: JournalBody = { type: 'close', at: AT, reason: 'a person is needed here' }

test.each<[string, readonly JournalBody[], boolean, string | null]>([
  ['nothing recorded yet', [putting], false, null],
  ['a tune in force', [held('fast'), putting], false, 'fast'],
  ['a fallback since', [held('fast'), held(null), putting], false, null],
  ['a rig that stopped for want of a person', [held('fast'), putting, close, putting], false, 'fast'],
  ['a rig that went down while a person put a tune in force', [held('fast'), putting, putting], false, null],
  ['a command that set another tune since', [held('fast'), putting, close, putting], true, null],
])('after %s', (_, bodies, commands, tune) => {
  const plan = planOf(false)
  const tunes = commands ? plan.tunes.map((each) => ({ ...each, apply: { run: ['set'], timeLimitSeconds: 5 } })) : plan.tunes
  expect(inForceNow({ ...plan, tunes }, bodies).tune).toBe(tune)
})

test('at the terminal the sheet stands in columns, and on a phone as its lines', async () => {
  const steps = [{ id: 'c1', kind: 'change', tune: 'stock', start: 'live' }, { id: 'c2', kind: 'change', tune: 'fast', start: 'live' }]
  const json = planJson({ tunes: [STOCK, FAST], base: 'stock', workloads: [{ name: 'photo stack', command: shell('echo "score: 1"'), measures: [SCORE] }], design: undefined, steps })
  const said: string[] = []
  await createBench(json).run({ terminal: quietTerminal(said, ['', 'yes', '', 'yes']) })
  expect(said).toEqual(expect.arrayContaining([
    'Put the tune "fast" in force: 3 settings to change. What it does not name goes back to what "stock" says, or to auto.',
    '    1  core ratio             50  →  54',
    '    2  core voltage    not known  →  1.25 V',
    '    3  offset, core 3  not known  →  −20 mV',
    'Change them as listed. Press Enter when it is done, Ctrl-C to stop.',
  ]))
  const { people, asked } = playPeople(['', 'yes', '', 'yes'])
  await createBench(json).run({ people })
  expect(asked.filter(({ kind }) => kind === 'done')[1]).toMatchObject({ step: 'step c2', lines: [{ number: 1, key: 'core ratio', where: '', from: '50', to: '54' }, { number: 2, from: null }, { number: 3, where: 'core 3' }] })
})

test('the sheet of a plan taken up again knows what the session before left in force', async () => {
  const steps = [{ id: 'c1', kind: 'change', tune: 'stock', start: 'live' }, { id: 'c2', kind: 'change', tune: 'fast', start: 'live' }]
  const bench = createBench(planJson({ tunes: [STOCK, FAST], base: 'stock', workloads: [{ name: 'photo stack', command: shell('echo "score: 1"'), measures: [SCORE] }], design: undefined, steps }))
  const first = playPeople(['', 'yes'])
  const stop = new AbortController()
  const running = bench.run({ people: first.people, signal: stop.signal })
  while (first.open() === 0) await new Promise((resolve) => setTimeout(resolve, 5))
  stop.abort()
  await running
  const { people, asked } = playPeople(['', 'yes'])
  await bench.run({ people })
  expect(asked[0].lines?.[0]).toMatchObject({ key: 'core ratio', from: '50', to: '54' })
})

test('journals that can\'t be read make a sheet that knows of nothing', async () => {
  const bench = createBench(planJson({ tunes: [STOCK], design: { ...ONE_START, tunes: ['stock'] }, workloads: [{ name: 'photo stack', command: shell('echo "score: 1"'), measures: [SCORE] }] }))
  const { people, asked } = playPeople(['', 'yes'])
  let lists = 0
  await bench.run({ people, disk: { ...roomyDisk, list: async (folder) => {
    lists += 1
    if (lists > 1) throw new Error('unreadable')
    return roomyDisk.list(folder)
  } } })
  expect(asked[0].lines).toMatchObject([{ key: 'core ratio', from: null, to: '50' }, { key: 'fan policy', from: null, to: 'quiet' }])
})

test('where a cold start is waited for, what is to be set by hand before it is listed', async () => {
  const said: string[] = []
  await createBench(planJson({ tunes: [STOCK], design: { ...ONE_START, tunes: ['stock'], start: 'cold' } })).run({ terminal: quietTerminal(said) })
  expect(said).toEqual(expect.arrayContaining(['    1  core ratio  not known  →  50', '    2  fan policy  not known  →  quiet']))
})

test('no line is no sheet', () => {
  expect(sheetLines([])).toEqual([])
})

function planOf(based: boolean, more: readonly unknown[] = []): Plan {
  return planSchema.parse({ ...planJson({ tunes: [STOCK, FAST, OTHER, LEAVING, ...more], design: undefined, steps: [] }), ...(based ? { base: 'stock' } : {}) })
}

function tuneOf(plan: Plan, name: string): PlanTune {
  const tune = plan.tunes.find((each) => each.name === name)
  if (tune === undefined) throw new Error(`no tune ${name}`)
  return tune
}
