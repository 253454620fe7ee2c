// A sheet says what is next, and what is entered at it becomes the records that the lab's rules ask for.
import { describe, expect, test } from 'vitest'
import { recordSchema, type LabRecord } from '../records/index.ts'
import type { Assembly, Mount } from '../records/parts.ts'
import { sheetSchema } from '../records/sheet.ts'
import { assemblyNow, conditionsAhead, entryRecords, inForceOf, repeatsOf, sheetProgress, slotsToSwap, withItems, type SheetEntry, type SheetRecords } from '../sheet.ts'
import { entryWhat } from '../sheet-words.ts'
import { makeId } from './make-records.ts'

const [RIG, ONE, TWO, COOLER, TUNE, OTHER_TUNE, RENDER, BUILD] = [1, 2, 3, 4, 5, 6, 7, 8].map(makeId)
const FIRST_START = makeId(21)
const SECOND_START = makeId(22)
const SHEET = sheetSchema.parse({
  kind: 'sheet', id: makeId(20), name: 'launch day', rigId: RIG, at: '2026-11-03T08:00:00Z', workloadIds: [RENDER, BUILD], repeats: 2, conditions: { firmware: '1.04' },
  starts: [
    { startId: FIRST_START, tuneId: TUNE, how: 'cold', slots: [{ slot: 'processor', sampleId: ONE }] },
    { startId: SECOND_START, tuneId: OTHER_TUNE, how: 'cold', slots: [{ slot: 'processor', sampleId: TWO }] },
  ],
})
const ASSEMBLY: Assembly = { kind: 'assembly', id: makeId(30), rigId: RIG, since: '2026-11-02T08:00:00Z', slots: [{ slot: 'processor', sampleId: ONE }, { slot: 'cooler', sampleId: COOLER }] }
const MOUNT: Mount = { kind: 'mount', id: makeId(31), assemblyId: ASSEMBLY.id, at: '2026-11-02T08:30:00Z', paste: 'grey, a pea' }
const BARE: SheetRecords = { starts: [], inForce: [], runs: [], assemblies: [ASSEMBLY], mounts: [MOUNT] }

/** Enters one after the other; each change must be sound by the schema. */
function enter(records: SheetRecords, ...entries: readonly SheetEntry[]): SheetRecords {
  return entries.reduce((held, entry, place) => {
    const items = entryRecords(SHEET, held, entry, sources(place + held.runs.length))
    for (const { after } of items) if (after !== null) expect(recordSchema.parse(after)).toEqual(after)
    return withItems(held, items)
  }, records)
}

let made = 1000
function sources(minutes: number) {
  return { newId: () => makeId(made++), now: () => Date.parse('2026-11-03T09:00:00Z') + minutes * 60_000 }
}

const run = (workloadId: string, startId = FIRST_START): SheetEntry => ({ what: 'run', startId, workloadId, outcome: 'scored', measures: [{ name: 'time', value: 41.5 }] })
const remount = (startId: string): SheetEntry => ({ what: 'remount', startId })
const begin = (startId = FIRST_START): SheetEntry => ({ what: 'begin', startId, known: 'unverified' })

function only<Kind extends LabRecord['kind']>(records: readonly Extract<LabRecord, { kind: Kind }>[]): Extract<LabRecord, { kind: Kind }> {
  expect(records).toHaveLength(1)
  return records[0]
}

describe('what is next', () => {
  test('a fresh sheet begins with its first start, first workload, first repeat', () => {
    expect(sheetProgress(SHEET, BARE).next).toEqual({ planned: SHEET.starts[0], workloadId: RENDER, repeat: 1 })
  })

  test('runs go down the workloads, then to the next repeat, whatever order they came in', () => {
    const half = enter(BARE, run(BUILD))
    expect(sheetProgress(SHEET, half).next).toMatchObject({ workloadId: RENDER, repeat: 1 })
    expect(sheetProgress(SHEET, enter(half, run(RENDER))).next).toMatchObject({ workloadId: RENDER, repeat: 2 })
  })

  test('a start with all its runs is done; more runs than asked for count for no other', () => {
    const { starts, next } = sheetProgress(SHEET, enter(BARE, run(RENDER), run(RENDER), run(RENDER), run(BUILD)))
    expect(starts[0]).toMatchObject({ state: 'begun', done: 3, of: 4 })
    expect(next).toMatchObject({ workloadId: BUILD, repeat: 2 })
    expect(sheetProgress(SHEET, enter(BARE, run(RENDER), run(RENDER), run(BUILD), run(BUILD))).next?.planned.startId).toBe(SECOND_START)
  })

  test.each(['no start', 'fallback start', 'system fails to load'] as const)('a start that ended with "%s" is done', (result) => {
    const { starts, next } = sheetProgress(SHEET, enter(BARE, { what: 'start failed', startId: FIRST_START, result }))
    expect([starts[0].state, next?.planned.startId]).toEqual(['done', SECOND_START])
  })

  test('a start left out is passed over, and with nothing left there is no next', () => {
    const sheet = { ...SHEET, starts: SHEET.starts.map((planned) => ({ ...planned, skipped: 'no time' })) }
    expect(sheetProgress(sheet, BARE)).toMatchObject({ starts: [{ state: 'left out' }, { state: 'left out' }], next: null })
  })

  test('a start begun later goes before one still to do', () => {
    expect(sheetProgress(SHEET, enter(BARE, begin(SECOND_START))).next?.planned.startId).toBe(SECOND_START)
  })
})

describe('a start begun', () => {
  test('takes the assembly and mount that are there, and the sheet\'s conditions', () => {
    const start = only(enter(BARE, begin()).starts)
    expect(start).toMatchObject({ id: FIRST_START, assemblyId: ASSEMBLY.id, mountId: MOUNT.id, tuneId: TUNE, result: 'started', conditions: { firmware: '1.04' } })
  })

  test('with another processor gets a new assembly that keeps the rest, and a new mount done as the last one', () => {
    const held = enter(BARE, begin(SECOND_START))
    const now = assemblyNow(RIG, held.assemblies)
    expect(now?.slots).toEqual([{ slot: 'processor', sampleId: TWO }, { slot: 'cooler', sampleId: COOLER }])
    const mount = held.mounts.find(({ assemblyId }) => assemblyId === now?.id)
    expect(mount?.paste).toBe('grey, a pea')
    expect(only(held.starts)).toMatchObject({ assemblyId: now?.id, mountId: mount?.id })
    expect(slotsToSwap(SHEET.starts[0], now)).toEqual(SHEET.starts[0].slots)
  })

  test('is on no mount where the processor changed since the last one that was recorded', () => {
    const later: Assembly = { ...ASSEMBLY, id: makeId(32), since: '2026-11-02T12:00:00Z', slots: [{ slot: 'processor', sampleId: TWO }] }
    expect(only(enter({ ...BARE, assemblies: [ASSEMBLY, later] }, begin(SECOND_START)).starts).mountId).toBeUndefined()
  })

  test('carries on the conditions of the start before it', () => {
    const held = enter(BARE, begin(), { what: 'conditions', startId: FIRST_START, conditions: { firmware: '1.05', ambient: 24 } })
    expect(conditionsAhead(SHEET, held.starts)).toEqual({ firmware: '1.05', ambient: 24 })
    expect(enter(held, begin(SECOND_START)).starts.find(({ id }) => id === SECOND_START)?.conditions).toEqual({ firmware: '1.05', ambient: 24 })
  })

  test('is refused a second time', () => {
    expect(() => enter(BARE, begin(), begin())).toThrow(/begun already/)
  })
})

describe('runs', () => {
  test('begin their start, follow each other in order, and refer to what is in force', () => {
    const held = enter(BARE, run(RENDER), run(BUILD), run(RENDER))
    expect(held.runs.map(({ order }) => order)).toEqual([0, 1, 2])
    expect(new Set(held.runs.map(({ inForceId }) => inForceId))).toEqual(new Set([only(held.inForce).id]))
    expect(repeatsOf(held.runs, FIRST_START, RENDER).map(({ order }) => order)).toEqual([0, 2])
  })

  test('after a change of what is in force refer to the new one, and the old one has ended', () => {
    const held = enter(BARE, run(RENDER), { what: 'in force changed', startId: FIRST_START, tuneId: OTHER_TUNE, known: 'seen by a person' }, run(BUILD))
    const [old, fresh] = inForceOf(held.inForce, FIRST_START)
    expect([old.tuneId, fresh.tuneId, fresh.known, old.to]).toEqual([TUNE, OTHER_TUNE, 'seen by a person', fresh.from])
    expect(held.runs.map(({ inForceId }) => inForceId)).toEqual([old.id, fresh.id])
  })

  test('corrected keep their place', () => {
    const held = enter(BARE, run(RENDER), run(BUILD))
    const corrected = enter(held, { what: 'correct run', runId: held.runs[0].id, outcome: 'hung', measures: [], phase: 'heavy' })
    expect(repeatsOf(corrected.runs, FIRST_START, RENDER)).toEqual([{ ...held.runs[0], outcome: 'hung', phase: 'heavy', measures: [] }])
  })

  test.each(['no start', 'system fails to load'] as const)('can\'t be in a start that ended with "%s", nor can one with runs have ended so', (result) => {
    expect(() => enter(BARE, { what: 'start failed', startId: FIRST_START, result }, run(RENDER))).toThrow(/nothing can have run/)
    expect(() => enter(BARE, run(RENDER), { what: 'start failed', startId: FIRST_START, result })).toThrow(/has runs/)
  })

  test('at fallback are not booked under the tune, whether it is noticed before or after them', () => {
    const fallback: SheetEntry = { what: 'start failed', startId: FIRST_START, result: 'fallback start' }
    for (const entries of [[fallback, run(RENDER)], [run(RENDER), fallback], [run(RENDER), { what: 'training', startId: FIRST_START, training: { result: 'fallback', tries: 3 } }]] as const) {
      const held = enter(BARE, ...entries)
      expect(only(held.inForce)).not.toHaveProperty('tuneId')
      expect(only(held.starts)).toMatchObject({ result: 'fallback start', training: { result: 'fallback' }, tuneId: TUNE })
    }
  })

  test('that never came to be leave nothing in force', () => {
    for (const before of [BARE, enter(BARE, begin())]) expect(enter(before, { what: 'start failed', startId: FIRST_START, result: 'no start' }).inForce).toEqual([])
  })
})

describe('a remount', () => {
  test('before a start is the mount that the start then has', () => {
    const held = enter(BARE, remount(FIRST_START), begin())
    expect(held.mounts).toHaveLength(2)
    expect(only(held.starts).mountId).toBe(held.mounts[1].id)
  })

  test('in a start without runs moves it; in one with runs it holds from the next start on', () => {
    const early = enter(BARE, begin(), remount(FIRST_START))
    expect(only(early.starts).mountId).toBe(early.mounts[1].id)
    const late = enter(BARE, run(RENDER), remount(FIRST_START))
    expect(only(late.starts).mountId).toBe(MOUNT.id)
  })

  test('before a swap is refused with a sentence', () => {
    expect(() => enter(BARE, remount(SECOND_START))).toThrow(/cooler off anyway/)
  })
})

test('a change taken back leaves the records as they were', () => {
  const held = enter(BARE, run(RENDER))
  const items = entryRecords(SHEET, held, { what: 'start failed', startId: FIRST_START, result: 'fallback start' }, sources(9))
  const back = items.map(({ before, after }) => ({ before: after, after: before }))
  expect(withItems(withItems(held, items), back)).toEqual(held)
})

describe('the sentence in the change log', () => {
  const workloads = [RENDER, BUILD].map((id, place) => ({ kind: 'workload' as const, id, name: ['tile render', 'code build'][place], measures: [{ name: 'time', unit: 's', direction: 'lower is better' as const }] }))
  const names = { workloads, tuneName: () => 'quiet 95 W' }
  const held = enter(BARE, run(RENDER))

  test.each<[SheetEntry, string]>([
    [run(RENDER), 'Entered tile render, repeat 2: 41.5 s'],
    [{ what: 'run', startId: FIRST_START, workloadId: BUILD, outcome: 'hung', measures: [] }, 'Entered code build, repeat 1: hung'],
    [{ what: 'run', startId: FIRST_START, workloadId: BUILD, outcome: 'throttled', measures: [{ name: 'time', value: 52 }] }, 'Entered code build, repeat 1: throttled, 52 s'],
    [{ what: 'correct run', runId: held.runs[0].id, outcome: 'scored', measures: [{ name: 'time', value: 14.5 }] }, 'Corrected tile render, repeat 1: 14.5 s, not 41.5 s'],
    [{ what: 'correct run', runId: held.runs[0].id, outcome: 'scored', measures: [{ name: 'time', value: 41.5 }], phase: 'heavy', place: 'core 3' }, 'Where it failed: tile render, repeat 1, heavy, core 3'],
    [{ what: 'conditions', startId: FIRST_START, conditions: { firmware: '1.05', ambient: 24 } }, 'Conditions of start 1 of "launch day": firmware 1.05 (was 1.04), ambient 24'],
    [{ what: 'in force changed', startId: FIRST_START, tuneId: OTHER_TUNE, known: 'unverified' }, 'In force from now on in start 1 of "launch day": quiet 95 W (unverified)'],
  ])('says what was entered: %#', (entry, sentence) => {
    expect(entryWhat(SHEET, held, entry, names)).toBe(sentence)
  })
})
