// A run and a start whole, runs found and set aside together, what workloads may no longer change, and what a person should look at.
import { expect, test } from 'vitest'
import type { LabRecord } from '@guardband/model'
import { adding, bench, BY, CLOCK_START, newLab, testSources } from './support.ts'

function filled() {
  const sources = testSources()
  const lab = newLab(sources)
  const b = bench(sources)
  const first = b.start(b.seats[0], b.t65, [10, 11, 12], { at: '2026-11-03T09:00:00Z' })
  const second = b.start(b.seats[2], b.t95, [9], { at: '2026-11-04T09:00:00Z' })
  const fallback = b.start(b.seats[1], b.t95, [14], { at: '2026-11-05T07:00:00Z' }, null)
  const question: LabRecord = { kind: 'question', id: sources.newId(), ask: { kind: 'gain', about: b.about({ a: { tuneId: b.t65.id }, b: { tuneId: b.t95.id } }) } }
  lab.apply({ ...BY, items: adding(...b.records, ...first, ...second, ...fallback, question) })
  const runs = first.filter((record) => record.kind === 'run')
  return { lab, b, first, second, fallback, runs, question, newId: sources.newId }
}

function idsOf(records: readonly LabRecord[]): readonly string[] {
  return records.filter(({ kind }) => kind === 'run').map(({ id }) => id).toSorted()
}

/** So many hours before the tests' clock begins. */
function before(hours: number): string {
  return new Date(CLOCK_START - hours * 3_600_000).toISOString()
}

test('a run whole has its place among the runs of its start, its neighbours, and the questions whose snapshot holds it', () => {
  const { lab, runs, question, fallback } = filled()
  const whole = lab.run(runs[1].id)
  expect(whole).toMatchObject({ place: 2, of: 3, row: { workload: 'tile render, all cores', sample: 'Quillon 14 1', tune: '65 W' }, workload: { name: 'tile render, all cores' } })
  expect(whole.around.map(({ id }) => id)).toEqual(runs.map(({ id }) => id))
  expect(whole.questions.map(({ id }) => id)).toEqual([question.id])
  const unmatched = fallback.find((record) => record.kind === 'run')
  expect(lab.run(unmatched?.id ?? '').questions).toEqual([])
  expect(() => lab.run(question.id)).toThrow('there is no run')
})

test('of a long start, a run shows the nine around it', () => {
  const sources = testSources()
  const lab = newLab(sources)
  const b = bench(sources)
  const records = b.start(b.seats[0], b.t65, Array.from({ length: 30 }, (_none, index) => 10 + index))
  lab.apply({ ...BY, items: adding(...b.records, ...records) })
  const runs = records.filter((record) => record.kind === 'run')
  const shown = (place: number): readonly string[] => lab.run(runs[place].id).around.map(({ id }) => id)
  const expected = (from: number): readonly string[] => runs.slice(from, from + 9).map(({ id }) => id)
  expect(shown(0)).toEqual(expected(0))
  expect(shown(15)).toEqual(expected(11))
  expect(shown(29)).toEqual(expected(21))
})

test('a start whole has what sat in it, what was in force with its runs, and its runs in their order', () => {
  const { lab, first, runs } = filled()
  const whole = lab.start(first[0].id)
  expect(whole).toMatchObject({ rig: 'north bench', asked: '65 W', slots: [{ slot: 'processor', name: 'Quillon 14 1' }], inForce: [{ tune: '65 W', runs: 3 }], runCount: 3, mount: null })
  expect(whole.runs.map(({ id }) => id)).toEqual(runs.map(({ id }) => id))
})

test('runs are found by workload, tune in force, sample and day of their start, all together', () => {
  const { lab, b, runs, second, fallback } = filled()
  const found = (wanted: object): readonly string[] => lab.runs({ from: 0, count: 100, ...wanted }).rows.map(({ id }) => id).toSorted()
  expect(found({ workloadId: b.workload.id })).toHaveLength(5)
  expect(found({ workloadId: b.suite.id })).toEqual([])
  expect(found({ tuneId: b.t65.id })).toEqual(idsOf(runs))
  expect(found({ tuneId: b.t95.id })).toEqual(idsOf(second))
  expect(found({ sampleId: b.a2.id })).toEqual(idsOf(fallback))
  expect(found({ since: '2026-11-04' })).toEqual([...idsOf(second), ...idsOf(fallback)].toSorted())
  expect(found({ since: '2026-11-04', until: '2026-11-04' })).toEqual(idsOf(second))
  expect(found({ sampleId: b.a2.id, tuneId: b.t65.id })).toEqual([])
})

test('several runs are set aside in one change with one reason, and brought back in one; those that are so already are left', () => {
  const { lab, runs } = filled()
  const ids = runs.map(({ id }) => id)
  lab.setAside(ids[0], { who: 'Ada Hollin', reason: 'window open' })
  const head = lab.head()
  expect(lab.keepRuns({ act: 'set aside', ids, reason: 'fan unplugged', who: 'Ada Hollin' })).toEqual({ change: head + 1, runs: 2 })
  expect(ids.map((id) => lab.run(id).row.setAside)).toEqual(['window open', 'fan unplugged', 'fan unplugged'])
  expect(lab.toDo().setAside).toBe(3)
  expect(() => lab.keepRuns({ act: 'set aside', ids, reason: 'again', who: 'Ada Hollin' })).toThrow('set aside already')
  expect(lab.keepRuns({ act: 'bring back', ids, reason: 'it was plugged in', who: 'Ada Hollin' })).toEqual({ change: head + 2, runs: 3 })
  expect(lab.toDo().setAside).toBe(0)
  lab.undo(head + 2, { who: 'Ada Hollin', why: '' })
  expect(ids.map((id) => lab.run(id).row.setAside)).toEqual(['window open', 'fan unplugged', 'fan unplugged'])
})

test('a measure that runs hold keeps name and unit; one that none holds may change, unless a suite weighs it', () => {
  const { lab, b, newId } = filled()
  const change = (old: LabRecord, after: LabRecord): number => lab.apply({ ...BY, items: [{ before: old, after }] })
  const [time] = b.workload.measures
  expect(() => change(b.workload, { ...b.workload, measures: [{ ...time, unit: 'ms' }] })).toThrow(/5 runs hold "time" in s.*can't be turned into ms/)
  expect(() => change(b.workload, { ...b.workload, measures: [{ ...time, name: 'wall time' }] })).toThrow(/can't be taken out or renamed/)
  const other: LabRecord & { kind: 'workload' } = { ...b.workload, id: newId(), name: 'archive pack', measures: [time, { name: 'power', unit: 'W', direction: 'lower is better' }] }
  lab.apply({ ...BY, items: [...adding(other), { before: b.suite, after: { ...b.suite, items: [...b.suite.items, { workloadId: other.id, measure: 'power', weight: 1 }] } }] })
  expect(() => change(other, { ...other, measures: [time] })).toThrow('suite "crew work" weighs "power"')
  change(other, { ...other, measures: [{ ...time, unit: 'ms' }, other.measures[1]] })
  change(b.workload, { ...b.workload, name: 'tile render', measures: [{ ...time, resolution: 0.01 }] })
})

test('a measure that a bin asks for is there, and keeps name and unit while it does', () => {
  const sources = testSources()
  const lab = newLab(sources)
  const b = bench(sources)
  const [time] = b.workload.measures
  const bin = (measure: string): LabRecord & { kind: 'bin' } => ({ kind: 'bin', id: sources.newId(), name: 'quick', partId: b.a.id, prices: [], criteria: [{ what: 'measure', workloadId: b.workload.id, measure, bound: 'at most', value: 40 }] })
  const change = (measure: typeof time) => (): number => lab.apply({ ...BY, items: [{ before: b.workload, after: { ...b.workload, measures: [measure] } }] })
  lab.apply({ ...BY, items: adding(...b.records.filter(({ kind }) => kind !== 'suite')) })
  expect(() => lab.apply({ ...BY, items: adding(bin('power')) })).toThrow('workload "tile render, all cores" has no measure "power"')
  const made = bin('time')
  lab.apply({ ...BY, items: adding(made) })
  expect(change({ ...time, unit: 'ms' })).toThrow('bin "quick" asks for "time" in s')
  expect(change({ ...time, name: 'wall time' })).toThrow("can't be taken out or renamed")
  lab.apply({ ...BY, items: [{ before: made, after: null }] })
  change({ ...time, unit: 'ms' })()
})

test('what a person should look at: wet and newly quarantined samples, starts of the last week of which it is unsure what held', () => {
  const { lab, b, fallback } = filled()
  const put = (old: LabRecord, after: LabRecord): number => lab.apply({ ...BY, why: 'test', items: [{ before: old, after }] })
  put(b.a1, { ...b.a1, status: 'wet' })
  put(b.a2, { ...b.a2, status: 'quarantined', quarantine: { reason: 'past 1.4 V', by: 'Ada Hollin', at: before(2) } })
  put(b.b1, { ...b.b1, status: 'quarantined', quarantine: { reason: 'ran cold', by: 'Ada Hollin', at: before(30) } })
  const todo = lab.toDo()
  expect(todo.wet.map(({ name }) => name)).toEqual(['Quillon 14 1'])
  expect(todo.quarantined).toMatchObject([{ name: 'Quillon 14 2', reason: 'past 1.4 V' }])
  expect(todo.unsure).toMatchObject({ total: 1, starts: [{ id: fallback[0].id, why: 'what was in force matches no tune' }] })
  expect(todo.sheets).toEqual([])
  expect(todo).toMatchObject({ lastBackup: null, backupDue: false })
})

test('a sheet says which start is next and what must go in before it, and is gone when nothing is left', () => {
  const { lab, b, newId } = filled()
  const startIds = [newId(), newId()]
  const sheet: LabRecord & { kind: 'sheet' } = {
    kind: 'sheet', id: newId(), name: 'Launch day', rigId: b.rig.id, at: '2026-11-05T07:00:00Z', workloadIds: [b.workload.id], repeats: 2, conditions: {},
    starts: [{ startId: startIds[0], tuneId: b.t65.id, how: 'cold', slots: [{ slot: 'processor', sampleId: b.b1.id }] }, { startId: startIds[1], tuneId: b.t95.id, how: 'warm', slots: [{ slot: 'processor', sampleId: b.a2.id }], skipped: 'no time' }],
  }
  lab.apply({ ...BY, items: adding(sheet) })
  expect(lab.toDo().sheets).toMatchObject([{ name: 'Launch day', rig: 'north bench', done: 1, of: 2, next: { place: 1, tune: '65 W', how: 'cold', begun: false, runsLeft: 2 } }])
  const [start, inForce, ...runs] = b.start(b.seats[2], b.t65, [9, 9.1])
  const own = [{ ...start, id: startIds[0] }, { ...inForce, startId: startIds[0] }, ...runs.map((run) => ({ ...run, startId: startIds[0] }))]
  lab.apply({ ...BY, items: adding(...own.slice(0, 3)) })
  expect(lab.toDo().sheets).toMatchObject([{ next: { begun: true, runsLeft: 1 } }])
  lab.apply({ ...BY, items: adding(...own.slice(3)) })
  expect(lab.toDo().sheets).toEqual([])
})

test('change-overs say where their figure comes from and how many gaps the log has; a person goes before the log', () => {
  const { lab, newId } = filled()
  expect(lab.changeOvers().map(({ of, from, hand }) => ({ of, from, hand }))).toEqual([
    { of: 'start', from: 'default', hand: 0 }, { of: 'tune change', from: 'default', hand: 1 }, { of: 'sample change', from: 'default', hand: 12 }, { of: 'remount', from: 'not used', hand: null },
  ])
  lab.apply({ ...BY, items: adding({ kind: 'cost', id: newId(), of: 'remount', handMinutes: 8, machineMinutes: 0 }) })
  expect(lab.changeOvers()[3]).toMatchObject({ of: 'remount', from: 'person', hand: 8, machine: 0 })
})

test('a backup is due a week after the last one, or after the workspace was made, and not where nothing changed since', async () => {
  let now = CLOCK_START
  const lab = newLab(testSources({ now: () => now }))
  const DAY = 24 * 3_600_000
  now += 8 * DAY
  expect(lab.toDo()).toMatchObject({ lastBackup: null, backupDue: true })
  await lab.moving.backup()
  expect(lab.toDo().backupDue).toBe(false)
  now += 8 * DAY
  expect(lab.toDo().backupDue).toBe(false)
  lab.apply({ ...BY, items: adding(...bench(testSources({}, 5)).records.slice(0, 1)) })
  expect(lab.toDo().backupDue).toBe(true)
})
