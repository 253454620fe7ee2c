// What became of records, told in words; and search through everything.
import Database from 'better-sqlite3'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { contentDigest, SpokenError, type LabRecord, type RecordOf, type Sample } from '@guardband/model'
import { adding, bench, BY, newLab, testSources } from './support.ts'

const PAGE = { from: 0, count: 50 }
const machine = { level: 'machine' as const }

function world() {
  const sources = testSources()
  const lab = newLab(sources)
  const made = bench(sources)
  lab.apply({ ...BY, items: adding(...made.records) })
  const change = <Item extends LabRecord>(before: Item, more: Partial<Item>): Item => {
    const after = { ...before, ...more }
    lab.apply({ ...BY, why: 'told so', items: [{ before, after }] })
    return after
  }
  return { sources, lab, change, ...made }
}

describe('the history of a record', () => {
  it('tells newest first what changed, field by field, with ids as names', () => {
    const { lab, change, a1, a2, b, t65, t95 } = world()
    const moved = change(a1, { batch: 'week 31' })
    change(moved, { batch: 'week 32', partId: b.id, quarantine: { reason: 'dropped', by: 'Bo Pike', at: '2026-11-05T09:00:00Z' } })
    const { name, kind, here, total, entries } = lab.history.of(a1.id, PAGE)
    expect({ name, kind, here, total }).toEqual({ name: 'sample "1"', kind: 'sample', here: true, total: 3 })
    expect(entries.map(({ change: { seq, who, why }, became, differences }) => ({ seq, who, why, became, differences }))).toEqual([
      {
        seq: 4, who: 'Ada Hollin', why: 'told so', became: 'changed',
        differences: [
          { field: 'batch', before: 'week 31', after: 'week 32' },
          { field: 'part', before: 'Quillon 14', after: 'Quillon 14R' },
          { field: 'quarantine, reason', before: null, after: 'dropped' },
          { field: 'quarantine, by whom', before: null, after: 'Bo Pike' },
          { field: 'quarantine, when', before: null, after: '5 Nov 2026 09:00 UTC' },
        ],
      },
      { seq: 3, who: 'Ada Hollin', why: 'told so', became: 'changed', differences: [{ field: 'batch', before: null, after: 'week 31' }] },
      { seq: 2, who: 'Ada Hollin', why: '', became: 'made', differences: [] },
    ])
    const tune = change(t65, { settings: [{ key: 'core voltage', scope: { level: 'core', index: '3' }, asked: { shape: 'scalar', value: 1.25, unit: 'V' } }, { key: 'fan', scope: machine, asked: { shape: 'auto' } }] })
    change(tune, { baseId: t95.id, settings: [{ key: 'core voltage', scope: { level: 'core', index: '3' }, asked: { shape: 'table', rows: [[1, 1.3], [8, 1.2]], unit: 'V' } }] })
    expect(lab.history.of(tune.id, { from: 0, count: 1 }).entries[0]?.differences).toEqual([
      { field: 'setting core voltage of core 3', before: '1.25 V', after: '1: 1.3 V, 8: 1.2 V' },
      { field: 'setting fan', before: 'auto', after: null },
      { field: 'base tune', before: null, after: '95 W' },
    ])
    expect(lab.history.of(a2.id, PAGE).total).toBe(1)
  })

  it('tells of figures with their units and of suites by the names in them', () => {
    const { lab, change, seats, start, t65, suite, workload } = world()
    const [first, held, run] = start(seats[0], t65, [40])
    lab.apply({ ...BY, items: adding(first, held, run) })
    change(run, { measures: [{ name: 'time', value: 41.5 }], exposure: { seconds: 90 } })
    expect(lab.history.of(run.id, PAGE).entries[0]?.differences).toEqual([
      { field: 'time', before: '40 s', after: '41.5 s' },
      { field: 'exposure, seconds', before: null, after: '90' },
    ])
    change(suite, { items: [{ workloadId: workload.id, measure: 'time', weight: 3 }] })
    expect(lab.history.of(suite.id, PAGE).entries[0]?.differences).toEqual([{ field: 'weight of tile render, all cores', before: 'measure time, weight 2', after: 'measure time, weight 3' }])
  })

  it('is there for a record that is gone, says what took changes back, and pages', () => {
    const { lab, change, sources, a } = world()
    const sample: Sample = { kind: 'sample', id: sources.newId(), partId: a.id, label: '9', origin: 'retail', picked: 'unknown', status: 'bench' }
    lab.apply({ ...BY, items: adding(sample) })
    const named = change(sample, { label: '9b' })
    lab.apply({ ...BY, items: [{ before: named, after: null }] })
    lab.undo(5, BY)
    lab.undo(4, BY)
    lab.apply({ ...BY, items: [{ before: sample, after: null }] })
    const history = lab.history.of(sample.id, PAGE)
    expect({ name: history.name, here: history.here, total: history.total }).toEqual({ name: 'sample "9"', here: false, total: 6 })
    expect(history.entries.map(({ change: { seq, undoneBy }, became }) => [seq, became, undoneBy])).toEqual([
      [8, 'taken out', undefined], [7, 'changed', undefined], [6, 'made', undefined], [5, 'taken out', 6], [4, 'changed', 7], [3, 'made', undefined],
    ])
    expect(lab.history.of(sample.id, { from: 4, count: 50 }).entries.map((entry) => entry.change.seq)).toEqual([4, 3])
    expect(() => lab.history.of(sources.newId(), PAGE)).toThrow(SpokenError)
    expect(lab.changes({ count: 50 }).filter(({ undoneBy }) => undoneBy !== undefined).map(({ seq }) => seq)).toEqual([5, 4])
  })
})

describe('the items of a change', () => {
  it('are named as they were, page by page, also when they are gone', () => {
    const { lab, records, change, a, seats, rig } = world()
    const { change: own, total, items } = lab.history.change(2, PAGE)
    expect([own.seq, total, items.length]).toEqual([2, records.length, records.length])
    expect(items[0]).toEqual({ id: a.id, kind: 'part', name: 'part "Quillon 14"', here: true, became: 'made', differences: [], more: 0 })
    expect(lab.history.change(2, { from: records.length - 1, count: 5 }).items.map(({ name }) => name)).toEqual(['assembly on rig "north bench" with Quillon 14R 1'])
    const seat = seats[2]
    lab.apply({ ...BY, items: [{ before: seat, after: null }] })
    change(rig, { name: 'south bench' })
    expect(lab.history.change(3, PAGE).items).toEqual([{ id: seat.id, kind: 'assembly', name: 'assembly on rig "south bench" with Quillon 14R 1', here: false, became: 'taken out', differences: [], more: 0 }])
    expect(lab.history.change(4, PAGE).items[0]).toMatchObject({ became: 'changed', differences: [{ field: 'name', before: 'north bench', after: 'south bench' }] })
    expect(() => lab.history.change(99, PAGE)).toThrow('there is no change 99.')
  })
})

function found() {
  const made = world()
  const { lab, sources, a, a1, change, seats, start, t65, t95, suite } = made
  change(a1, { serial: 'HP-8841', batch: 'week 31', note: 'Returned with a bent pin; straightened by hand under the loupe' })
  change(t95, { settings: [{ key: 'Core voltage', scope: machine, asked: { shape: 'scalar', value: 1.25, unit: 'V' } }] })
  const evidence: RecordOf<'evidence'> = { kind: 'evidence', id: sources.newId(), sha256: 'ab'.repeat(32), name: 'pins before.jpg', mediaType: 'image/jpeg', bytes: 3, at: '2026-11-05T09:00:00Z', by: 'Bo Pike', about: [a1.id] }
  const bin: RecordOf<'bin'> = { kind: 'bin', id: sources.newId(), name: 'Quiet picks', partId: a.id, prices: [], criteria: [] }
  lab.apply({ ...BY, items: adding(evidence, bin, ...start(seats[0], t65, [40, 41], { source: 'x.csv # A7', conditions: { firmware: 'F1.22' } })) })
  lab.ask({ title: 'Is the R worth it', ask: { kind: 'gain', about: { a: { partId: a.id }, b: { partId: made.b.id }, suiteId: suite.id, slot: 'processor', smallestGain: { percent: 1, fixedAt: '2026-11-01T08:00:00Z' } } } }, BY)
  const names = (q: string): readonly string[] => lab.find({ q }).groups.flatMap(({ kind, hits }) => hits.map(({ name }) => `${kind}: ${name}`))
  return { ...made, evidence, bin, names }
}

describe('search', () => {
  it.each([
    ['8841', ['sample: Quillon 14 1']],
    ['WEEK 31', ['sample: Quillon 14 1']],
    ['core volt', ['tune: 95 W']],
    ['bent pin', ['sample: Quillon 14 1']],
    ['pins before', ['evidence: pins before.jpg']],
    ['quiet', ['bin: Quiet picks']],
    ['worth it', ['question: Is the R worth it']],
    ['f1.22', ['start: start A7 of Quillon 14 1']],
    ['crew', ['suite: crew work']],
    ['north bench', ['rig: north bench', 'start: start A7 of Quillon 14 1']],
    ['quillon nowhere', []],
    ['  ', []],
  ])('for "%s" finds what holds every word of it', (q, expected) => {
    expect(found().names(q)).toEqual(expected)
  })

  it('puts names that begin so before those that hold the words, and says where else they stood', () => {
    const { lab, a1 } = found()
    const { groups, runs } = lab.find({ q: 'quillon 14' })
    expect(groups.map(({ kind, total }) => [kind, total])).toEqual([['part', 2], ['sample', 3], ['start', 1], ['bin', 1]])
    expect(groups[0]?.hits.map(({ name, where }) => [name, where])).toEqual([['Quillon 14', null], ['Quillon 14R', null]])
    expect(groups[3]?.hits[0]).toMatchObject({ name: 'Quiet picks', where: 'of Quillon 14' })
    expect(runs).toBe(2)
    expect(lab.find({ q: '1 8841' }).groups[0]?.hits).toEqual([{ id: a1.id, name: 'Quillon 14 1', where: 'serial HP-8841', owner: null }])
    expect(lab.find({ q: 'pins' }).groups[0]?.hits[0]?.owner).toEqual({ kind: 'sample', id: a1.id })
    expect(lab.find({ q: 'loupe' }).groups[0]?.hits[0]?.where).toBe('note: Returned with a bent pin; straightened by hand under the loupe')
  })

  it('counts runs as the list of runs finds them, and gives one kind alone when asked', () => {
    const { lab } = found()
    for (const q of ['tile', '65', 'a7 tile', 'nothing']) expect(lab.find({ q }).runs).toBe(lab.runs({ from: 0, count: 1, find: q }).total)
    expect(lab.find({ q: 'quillon', kind: 'sample' }).groups.map(({ kind }) => kind)).toEqual(['sample'])
  })

  it('finds what a change brought, and no more what an undo took back', () => {
    const { lab, sources, names } = found()
    expect(names('sluice')).toEqual([])
    const seq = lab.apply({ ...BY, items: adding({ kind: 'part', id: sources.newId(), name: 'Sluice 450', slot: 'supply', prices: [] }) })
    expect(names('sluice')).toEqual(['part: Sluice 450'])
    lab.undo(seq, BY)
    expect(names('sluice')).toEqual([])
  })
})

describe('the content digest', () => {
  it('is the digest of the list of all records as they are kept, in the order of their ids', () => {
    const { lab } = world()
    const db = new Database(path.join(lab.folder, 'lab.db'), { readonly: true })
    const bodies = db.prepare<[], string>('SELECT body FROM record ORDER BY id').pluck().all()
    db.close()
    expect(lab.digest().digest).toBe(contentDigest(bodies))
  })

  it('is the same for the same records whatever the way there, and another for other ones', () => {
    const { lab, a } = world()
    const { digest, records } = lab.digest()
    expect(records).toBe(lab.history.change(2, PAGE).total + 1)
    lab.apply({ ...BY, items: [{ before: a, after: { ...a, name: 'Quillon 15' } }] })
    expect(lab.digest().digest).not.toBe(digest)
    lab.undo(3, BY)
    expect(lab.digest()).toEqual({ digest, records })
  })
})
