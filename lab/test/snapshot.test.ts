import path from 'node:path'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { snapshotSchema, SpokenError, type LabRecord } from '@guardband/model'
import { gainSnapshot } from '../snapshots/gain.ts'
import { createRecordStore } from '../store/record-store.ts'
import { adding, bench, BY, newLab, temporaryFolder, testSources } from './support.ts'

function filled() {
  const sources = testSources()
  const lab = newLab(sources)
  const world = bench(sources)
  lab.apply({ ...BY, items: adding(...world.records) })
  const add = (...records: readonly LabRecord[]): number => lab.apply({ ...BY, items: adding(...records) })
  const ask = (more: Parameters<typeof world.about>[0] = {}): string => lab.ask({ ask: { kind: 'gain', about: world.about(more) } }, BY)
  return { sources, lab, ...world, add, ask }
}

describe('a snapshot of a Gain question', () => {
  it('says which tunes in force a person let pass a ceiling, and why; one that did not run is left out', () => {
    const { lab, add, ask, start, seats, t65, t95 } = filled()
    add(...start(seats[0], t65, [40]), ...start(seats[2], t65, [38]))
    const question = ask()
    const plain = lab.snapshot(question)
    expect(plain.snapshot.pastCeilings).toBeUndefined()
    const override = { ceilingIds: [t95.id], reason: 'to find the edge', by: 'Ada Hollin', at: '2026-11-05T08:00:00Z' }
    lab.apply({ ...BY, items: [{ before: t95, after: { ...t95, override } }] })
    expect(lab.snapshot(question).digest).toBe(plain.digest)
    lab.apply({ ...BY, items: [{ before: t65, after: { ...t65, override } }] })
    expect(lab.snapshot(question).snapshot.pastCeilings).toEqual([{ tune: '65 W', reason: 'to find the edge', by: 'Ada Hollin' }])
  })

  it('is sound by its schema and holds labels, weights, samples and runs of both sides', () => {
    const { lab, add, ask, start, seats, t65, a1, b1, workload } = filled()
    add(...start(seats[0], t65, [40, 41]), ...start(seats[2], t65, [38]))
    const { snapshot, digest } = lab.snapshot(ask({ money: { extraPrice: 90, worthOfOnePercent: 12 } }))
    expect(snapshotSchema.safeParse(snapshot).success).toBe(true)
    expect(digest).toMatch(/^[0-9a-f]{64}$/)
    expect(snapshot).toMatchObject({
      kind: 'gain',
      question: { title: 'Quillon 14R against Quillon 14' },
      lab: { name: 'Hollin & Pike', currency: 'EUR', simulated: true },
      slot: 'processor',
      sides: [{ label: 'Quillon 14', part: 'Quillon 14' }, { label: 'Quillon 14R', part: 'Quillon 14R' }],
      workloads: [{ id: workload.id, label: 'tile render, all cores', group: 'render', measure: 'time', unit: 's', compares: 'ratio', direction: 'lower is better', weight: 2, resolution: 0.1 }],
      smallestGain: { percent: 1 },
      money: { extraPrice: 90, worthOfOnePercent: 12 },
    })
    expect(snapshot.samples.map(({ id }) => id)).toEqual([a1.id, b1.id].toSorted())
    expect(snapshot.starts.map(({ side, how, known, rig, order, conditions }) => ({ side, how, known, rig, order, conditions }))).toEqual([
      { side: 0, how: 'cold', known: 'read back', rig: 'north bench', order: 0, conditions: { firmware: 'F1' } },
      { side: 1, how: 'cold', known: 'read back', rig: 'north bench', order: 1, conditions: { firmware: 'F1' } },
    ])
    expect(snapshot.runs.value).toEqual([40, 41, 38])
    expect(snapshot.runs.start).toEqual([0, 0, 1])
    expect(snapshot.runs.order).toEqual([0, 1, 0])
    expect(snapshot.runs.seconds).toEqual([null, null, null])
  })

  it('books a start under what was in force, never under what was asked', () => {
    const { lab, add, ask, start, seats, t65, t95 } = filled()
    const asked65held95 = start(seats[0], t65, [30], {}, t95)
    add(...start(seats[0], t65, [40]), ...asked65held95, ...start(seats[0], t95, [31]))
    const { snapshot } = lab.snapshot(ask({ a: { tuneId: t65.id }, b: { tuneId: t95.id } }))
    expect(snapshot.sides.map(({ label }) => label)).toEqual(['65 W', '95 W'])
    expect(snapshot.starts.map(({ id, side }) => [id, side])).toContainEqual([asked65held95[0].id, 1])
    expect(snapshot.starts.map(({ side }) => side)).toEqual([1, 0, 1])
    expect(snapshot.failedStarts).toEqual([])
  })

  it('keeps fallback and failed starts as evidence of the side that was asked for, and none of their runs', () => {
    const { lab, add, ask, start, seats, t65, t95 } = filled()
    const fallback = start(seats[0], t65, [80], { result: 'fallback start', training: { result: 'fallback' } }, null)
    const [dead] = start(seats[2], t65, [], { result: 'no start' })
    const unknown = start(seats[2], t65, [55], {}, null)
    const [elsewhere] = start(seats[2], t95, [], { result: 'no start' })
    add(...start(seats[0], t65, [40]), ...start(seats[2], t65, [38]), ...fallback, dead, ...unknown, elsewhere)
    const { snapshot } = lab.snapshot(ask())
    expect(snapshot.runs.value).toEqual([40, 38])
    expect(snapshot.failedStarts).toEqual([
      { id: fallback[0].id, side: 0, result: 'fallback start' },
      { id: dead.id, side: 1, result: 'no start' },
      { id: unknown[0].id, side: 1, result: 'not in force as asked' },
    ].toSorted((x, y) => (x.id < y.id ? -1 : 1)))
  })

  it('splits a start at a live change: the first stretch keeps how the start came about, the next is live', () => {
    const { lab, add, ask, start, seats, t65, t95, sources, workload } = filled()
    const [first, held] = start(seats[0], t65, [])
    const later: LabRecord = { kind: 'in force', id: sources.newId(), startId: first.id, tuneId: t95.id, known: 'measured', settings: [], from: '2026-11-05T10:00:00Z' }
    const run = (inForceId: string, value: number, order: number): LabRecord => ({ kind: 'run', id: sources.newId(), startId: first.id, inForceId, workloadId: workload.id, order, outcome: 'scored', measures: [{ name: 'time', value }] })
    add({ ...first, at: '2026-11-05T09:00:00Z' }, { ...held, from: '2026-11-05T09:01:00Z' }, later, run(held.id, 40, 0), run(later.id, 30, 1))
    const { snapshot } = lab.snapshot(ask({ a: { tuneId: t65.id }, b: { tuneId: t95.id } }))
    expect(snapshot.starts.map(({ id, side, how, known, at, order }) => ({ id, side, how, known, at, order }))).toEqual([
      { id: held.id, side: 0, how: 'cold', known: 'read back', at: '2026-11-05T09:00:00Z', order: 0 },
      { id: later.id, side: 1, how: 'live', known: 'measured', at: '2026-11-05T10:00:00Z', order: 1 },
    ])
    expect(snapshot.runs.value).toEqual([40, 30])
  })

  it('takes for sides that name only a part the tunes both have been run at, and says which tune when there are several', () => {
    const { lab, add, ask, start, seats, t65, t95 } = filled()
    add(...start(seats[0], t65, [40]), ...start(seats[0], t95, [31]), ...start(seats[2], t65, [38]))
    const one = lab.snapshot(ask()).snapshot
    expect(one.runs.value).toEqual([40, 38])
    expect(one.starts.map(({ partners }) => partners)).toEqual([{}, {}])
    add(...start(seats[2], t95, [29]))
    const both = lab.snapshot(ask()).snapshot
    expect(both.runs.value).toEqual([40, 31, 38, 29])
    expect(both.starts.map(({ partners }) => partners)).toEqual([{ tune: '65 W' }, { tune: '95 W' }, { tune: '65 W' }, { tune: '95 W' }])
  })

  it('is empty on a side that was never run, and refuses sides that share a start', () => {
    const { lab, add, ask, start, seats, t65, a, a1, a2 } = filled()
    add(...start(seats[0], t65, [40]))
    const { snapshot } = lab.snapshot(ask({ a: { partId: a.id, tuneId: t65.id } }))
    expect(snapshot.starts.map(({ side }) => side)).toEqual([0])
    expect(lab.snapshot(ask()).snapshot.runs.id).toEqual([])
    const overlapping = ask({ a: { tuneId: t65.id }, b: { partId: a.id, tuneId: t65.id } })
    expect(() => lab.snapshot(overlapping)).toThrow(/counts for both sides/)
    expect(lab.answerNow(overlapping)).toMatchObject({ state: 'failed', sentence: expect.stringContaining('Name a part, a tune or samples so that no start fits both.') })
    expect(lab.questions().map(({ state }) => state)).toEqual(['none', 'none', 'none'])
    add(...start(seats[1], t65, [41]))
    const narrowed = lab.snapshot(ask({ a: { partId: a.id, sampleIds: [a1.id] }, b: { partId: a.id, sampleIds: [a2.id] } })).snapshot
    expect(narrowed.sides.map(({ label }) => label)).toEqual(['Quillon 14 (1)', 'Quillon 14 (2)'])
    expect(narrowed.runs.value).toEqual([40, 41])
  })

  it('names what else sat in the machine: the part, and the sample where several of it were run', () => {
    const { lab, add, ask, start, seats: [plain], seat, sample, part, t65, a1, b1 } = filled()
    const memory: LabRecord & { kind: 'part' } = { ...part('Marram 5600'), slot: 'memory' }
    const cooler: LabRecord & { kind: 'part' } = { ...part('Burrow 120'), slot: 'cooler' }
    const kit1 = sample(memory, 'kit 1')
    const kit2 = sample(memory, 'kit 2')
    const air = sample(cooler, '1')
    const with1 = seat(a1, { slot: 'memory', sampleId: kit1.id }, { slot: 'cooler', sampleId: air.id })
    const with2 = seat(b1, { slot: 'memory', sampleId: kit2.id }, { slot: 'cooler', sampleId: air.id })
    add(memory, cooler, kit1, kit2, air, with1, with2, ...start(with1, t65, [40]), ...start(with2, t65, [39]), ...start(plain, t65, [41]))
    const { snapshot } = lab.snapshot(ask())
    expect(snapshot.starts.map(({ partners }) => partners)).toEqual([
      { memory: 'Marram 5600 kit 1', cooler: 'Burrow 120' },
      { memory: 'Marram 5600 kit 2', cooler: 'Burrow 120' },
      {},
    ])
  })

  it('orders starts by time where there is one, whatever order they were written in', () => {
    const { lab, add, ask, start, seats, t65 } = filled()
    const late = start(seats[0], t65, [3], { at: '2026-11-05T12:00:00+01:00' })
    const early = start(seats[0], t65, [1], { at: '2026-11-05T10:30:00Z' })
    add(...late, ...early, ...start(seats[2], t65, [2], { at: '2026-11-05T10:45:00Z' }))
    const { snapshot } = lab.snapshot(ask())
    expect(snapshot.runs.value).toEqual([1, 2, 3])
    expect(snapshot.starts.map(({ order }) => order)).toEqual([0, 1, 2])
  })

  it('keeps set-aside and failed runs with their reason and outcome', () => {
    const { lab, add, ask, start, seats, t65 } = filled()
    const [first, held, good, bad] = start(seats[0], t65, [40, 41])
    add(first, held, good, { ...bad, outcome: 'machine reset', measures: [], exposure: { seconds: 12 } }, ...start(seats[2], t65, [38]))
    const question = ask()
    const before = lab.snapshot(question).digest
    const seq = lab.setAside(good.id, { who: 'Ada Hollin', reason: 'the fan was unplugged' })
    const { snapshot, digest } = lab.snapshot(question)
    expect(digest).not.toBe(before)
    expect(snapshot.runs.setAside).toEqual(['the fan was unplugged', null, null])
    expect(snapshot.runs.outcome).toEqual(['scored', 'machine reset', 'scored'])
    expect(snapshot.runs.value).toEqual([40, null, 38])
    expect(snapshot.runs.seconds).toEqual([null, 12, null])
    lab.bringBack(good.id, { who: 'Ada Hollin', reason: 'it was another run' })
    expect(lab.snapshot(question).digest).toBe(before)
    expect(lab.changes({ count: 1 })[0].why).toBe('it was another run')
    expect(seq).toBeGreaterThan(0)
  })

  it('tells measures of one workload apart', () => {
    const { lab, add, ask, start, seats, t65, workload, suite, sources } = filled()
    const two = { ...workload, measures: [...workload.measures, { name: 'noise', unit: 'dBA', direction: 'lower is better' as const }] }
    lab.apply({ ...BY, items: [{ before: workload, after: two }] })
    const wide: LabRecord = { ...suite, id: sources.newId(), name: 'fast and quiet', items: [...suite.items, { workloadId: workload.id, measure: 'noise', weight: 1 }] }
    const [first, held, run] = start(seats[0], t65, [40])
    add(wide, first, held, { ...run, measures: [{ name: 'time', value: 40 }, { name: 'noise', value: 31.5 }] })
    const { snapshot } = lab.snapshot(ask({ suiteId: wide.id, a: { tuneId: t65.id } }))
    expect(snapshot.workloads.map(({ id, label, compares }) => ({ id, label, compares }))).toEqual([
      { id: `${workload.id}:time`, label: 'tile render, all cores, time', compares: 'ratio' },
      { id: `${workload.id}:noise`, label: 'tile render, all cores, noise', compares: 'difference' },
    ])
    expect(snapshot.runs.value).toEqual([40, 31.5])
  })

  it('has one digest whatever order the rows lie in, and another when any record in it changes', () => {
    const { lab, add, ask, start, seats, t65, a, rig } = filled()
    for (const value of [40, 41, 42]) add(...start(seats[0], t65, [value, value + 0.5]), ...start(seats[2], t65, [value - 2]))
    const question = ask()
    const { digest } = lab.snapshot(question)

    const source = new Database(path.join(lab.folder, 'lab.db'), { readonly: true })
    const turned = new Database(path.join(temporaryFolder(), 'turned.db'))
    for (const { sql } of source.prepare<[], { sql: string }>(`SELECT sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' AND tbl_name IN ('record', 'journal') AND sql IS NOT NULL`).all()) turned.exec(sql)
    const rows = source.prepare<[], { id: string; kind: string; body: string }>('SELECT id, kind, body FROM record').all()
    for (const row of rows.toReversed()) turned.prepare('INSERT INTO record (id, kind, body, rev) VALUES (?, ?, ?, 1)').run(row.id, row.kind, row.body)
    const store = createRecordStore(turned)
    const record = store.get(question)
    if (record?.kind !== 'question') throw new Error('the question was copied')
    expect(gainSnapshot({ db: turned, store }, record)).toEqual(lab.snapshot(question).snapshot)
    source.close()
    turned.close()

    for (const before of [lab.get(a.id), lab.get(rig.id)]) {
      if (before?.kind !== 'part' && before?.kind !== 'rig') throw new Error('both are there')
      const seq = lab.apply({ ...BY, items: [{ before, after: { ...before, name: `${before.name} renamed` } }] })
      expect(lab.snapshot(question).digest).not.toBe(digest)
      lab.undo(seq, BY)
      expect(lab.snapshot(question).digest).toBe(digest)
    }
  })

  it('does not go stale by work that it does not speak of', () => {
    const { lab, add, ask, start, seats, t65, t95, workload, sources } = filled()
    add(...start(seats[0], t65, [40]), ...start(seats[2], t65, [38]))
    const question = ask()
    const { digest } = lab.snapshot(question)
    const other: LabRecord = { ...workload, id: sources.newId(), name: 'archive pack' }
    const [first, held, run] = start(seats[0], t65, [5])
    add(other, first, held, { ...run, workloadId: other.id }, ...start(seats[0], t95, [30]), { kind: 'grade', id: sources.newId(), name: 'starts cold', requires: [] })
    ask({ a: { tuneId: t65.id }, b: { tuneId: t95.id } })
    expect(lab.snapshot(question).digest).toBe(digest)
  })

  it('refuses an unknown question with a sentence', () => {
    const { lab, sources } = filled()
    const id = sources.newId()
    expect(() => lab.snapshot(id)).toThrow(SpokenError)
    expect(() => lab.answerNow(id)).toThrow(`there is no question ${id}.`)
  })
})

describe('change-over costs', () => {
  it('are house defaults until a person or the log says better', () => {
    const { lab, add, ask, start, seats, t65, t95, sources } = filled()
    const question = ask()
    expect(lab.snapshot(question).snapshot.costs).toEqual({
      start: { hand: 0, machine: 4, from: 'default' }, tuneChange: { hand: 1, machine: 2, from: 'default' }, sampleChange: { hand: 12, machine: 6, from: 'default' },
    })
    // Six starts at each tune in turn, 10 minutes apart, each with one run of 4 minutes: 6 minutes between.
    for (let index = 0; index < 6; index++) {
      const [first, held, run] = start(seats[0], index % 2 === 0 ? t65 : t95, [40], { at: new Date(Date.parse('2026-11-05T08:00:00Z') + index * 600_000).toISOString() })
      add(first, held, { ...run, exposure: { seconds: 240 } })
    }
    expect(lab.snapshot(question).snapshot.costs).toEqual({
      start: { hand: 0, machine: 4, from: 'default' }, tuneChange: { hand: 2, machine: 4, from: 'log' }, sampleChange: { hand: 12, machine: 6, from: 'default' },
    })
    add({ kind: 'cost', id: sources.newId(), of: 'tune change', handMinutes: 3, machineMinutes: 1 })
    expect(lab.snapshot(question).snapshot.costs.tuneChange).toEqual({ hand: 3, machine: 1, from: 'person' })
  })

  it('are not learned from nights, nor where a run has no duration', () => {
    const { lab, add, ask, start, seats, t65 } = filled()
    for (let index = 0; index < 8; index++) {
      const [first, held, run] = start(seats[0], t65, [40], { at: new Date(Date.parse('2026-11-05T08:00:00Z') + index * 8 * 3_600_000).toISOString() })
      add(first, held, { ...run, exposure: { seconds: 240 } })
    }
    for (let index = 0; index < 8; index++) add(...start(seats[2], t65, [40], { at: new Date(Date.parse('2026-12-05T08:00:00Z') + index * 600_000).toISOString() }))
    expect(lab.snapshot(ask()).snapshot.costs.start.from).toBe('default')
  })
})
