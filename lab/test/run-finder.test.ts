import Database from 'better-sqlite3'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import type { LabRecord, RunsWanted } from '@guardband/model'
import { adding, bench, BY, newLab, reopen, testSources } from './support.ts'

type RunRecord = LabRecord & { kind: 'run' }

function changeInto(run: RunRecord, more: Partial<RunRecord>): void {
  Object.assign(run, more)
}

/** Four starts: A of sample 1 at 65 W; B of sample 2 asked for 95 W, in force 65 W; C of 14R at 95 W; D never ran. */
function filled() {
  const sources = testSources()
  const lab = newLab(sources)
  const world = bench(sources)
  const { seats, start, t65, t95 } = world
  const a = start(seats[0], t65, [40, 41], { source: 'x.csv # A' })
  const b = start(seats[1], t95, [42, 43], { source: 'x.csv # B' }, t65)
  const c = start(seats[2], t95, [38, 39, 37], { source: 'x.csv # C' })
  const d = start(seats[2], t95, [], { source: 'x.csv # D', result: 'no start' })
  changeInto(b[3], { outcome: 'machine reset', place: 'Kern Ä5, heavy', measures: [] })
  changeInto(c[3], { outcome: 'stopped by a person', measures: [] })
  changeInto(c[4], { setAside: { reason: 'Fenster OFFEN 100%', by: 'Ada Hollin', at: '2026-11-05T09:00:00Z' } })
  lab.apply({ ...BY, items: adding(...world.records, ...a, ...b, ...c, ...d) })
  const names = new Map([...a.slice(2).map((run, at) => [run.id, `A${at}`] as const), ...b.slice(2).map((run, at) => [run.id, `B${at}`] as const), ...c.slice(2).map((run, at) => [run.id, `C${at}`] as const)])
  const find = (wanted: Partial<RunsWanted>): string => {
    const { rows, total } = lab.runs({ from: 0, count: 100, ...wanted })
    expect(total).toBe(rows.length)
    return rows.map(({ id }) => names.get(id) ?? '?').toSorted().join(' ')
  }
  return { lab, world, a, b, c, d, find }
}

describe('runs', () => {
  it.each([
    ['tile', 'A0 A1 B0 B1 C0 C1 C2'],
    ['TILE render,', 'A0 A1 B0 B1 C0 C1 C2'],
    ['14r', 'C0 C1 C2'],
    ['quillon 2', 'B0 B1'],
    ['95', 'B0 B1 C0 C1 C2'],
    ['95 65', 'B0 B1'],
    ['north c', 'A0 A1 B0 B1 C0 C1 C2'],
    ['reset', 'B1'],
    ['kern ä5', 'B1'],
    ['fenster offen', 'C2'],
    ['100%', 'C2'],
    ['%', 'C2'],
    ['_', ''],
    ["' OR 1 --", ''],
    ['  ', 'A0 A1 B0 B1 C0 C1 C2'],
    ['south', ''],
  ])('are found by words anywhere in their row, whatever the case: %s', (find, expected) => {
    expect(filled().find({ find })).toBe(expected)
  })

  it('are found by how they ended: an outcome, any failure, set aside', () => {
    const { find } = filled()
    expect(find({ outcome: 'scored' })).toBe('A0 A1 B0 C0 C2')
    expect(find({ outcome: 'failed' })).toBe('B1')
    expect(find({ outcome: 'stopped by a person' })).toBe('C1')
    expect(find({ outcome: 'set aside' })).toBe('C2')
    expect(find({ outcome: 'scored', find: '95' })).toBe('B0 C0 C2')
  })

  it('are found by their own id, and by that of their start, of what was in force, or of a sample in it', () => {
    const { find, world, a, b, c, d } = filled()
    expect(find({ ids: [a[2].id, c[3].id] })).toBe('A0 C1')
    expect(find({ ids: [a[0].id] })).toBe('A0 A1')
    expect(find({ ids: [b[1].id, c[2].id] })).toBe('B0 B1 C0')
    expect(find({ ids: [world.b1.id] })).toBe('C0 C1 C2')
    expect(find({ ids: [a[0].id, a[2].id], outcome: 'failed' })).toBe('')
    expect(find({ ids: [d[0].id] })).toBe('')
    expect(find({ ids: [] })).toBe('')
  })

  it('come by the page, newest first, with how many there are in all', () => {
    const { lab } = filled()
    const all = lab.runs({ from: 0, count: 100, find: '65' }).rows.map(({ id }) => id)
    expect(all).toEqual(all.toSorted().toReversed())
    const page = lab.runs({ from: 1, count: 2, find: '65' })
    expect([page.total, page.rows.map(({ id }) => id)]).toEqual([4, all.slice(1, 3)])
  })

  it('are found as they are after a change, also by another name of their tune', () => {
    const { lab, world, find } = filled()
    lab.apply({ ...BY, items: [{ before: world.t65, after: { ...world.t65, name: 'hush' } }] })
    expect(find({ find: 'hush' })).toBe('A0 A1 B0 B1')
    expect(find({ find: '65' })).toBe('')
  })

  it('are found as they are after runs were added, changed, set aside, taken out and brought back, one by one or many at once', async () => {
    const { lab, world, a, find } = filled()
    const expected = (): string => [...lab.list('run')].map(({ id }) => id).toReversed().join()
    // All of them hold this word; without any, nothing need be searched.
    const found = (wanted: Partial<RunsWanted> = { find: 'tile' }): string => lab.runs({ from: 0, count: 5000, ...wanted }).rows.map(({ id }) => id).join()
    expect(found()).toBe(expected())
    const run = a[2]
    const [start, held, ...more] = world.start(world.seats[0], world.t65, Array.from({ length: 2100 }, () => 40))
    lab.apply({ ...BY, items: [{ before: run, after: { ...run, outcome: 'hung', measures: [] } }] })
    expect([find({ outcome: 'hung' }), find({ find: 'hung' })]).toEqual(['A0', 'A0'])
    lab.undo(lab.head(), BY)
    expect([find({ outcome: 'hung' }), found() === expected()]).toEqual(['', true])
    lab.apply({ ...BY, items: [{ before: run, after: null }] })
    expect(found()).toBe(expected())
    lab.undo(lab.head(), BY)
    const earlier = { ...run, id: '00000000-0000-7000-8000-000000000001' }
    lab.apply({ ...BY, items: adding(earlier) })
    expect(found()).toBe(expected())
    lab.setAside(run.id, { who: 'Ada Hollin', reason: 'door open' })
    expect(found({ find: 'door' })).toBe(run.id)
    lab.bringBack(run.id, { who: 'Ada Hollin', reason: 'it was shut' })
    expect(found({ find: 'door' })).toBe('')
    lab.apply({ ...BY, items: adding(start, held, ...more) })
    expect(found()).toBe(expected())
    expect(lab.runs({ from: 0, count: 1, ids: [start.id] }).total).toBe(2100)
    // Another opening of the folder takes out what this one then no longer finds.
    const other = reopen(lab.folder)
    other.undo(other.head(), BY)
    expect(found()).toBe(expected())
  })

  it('are read from an index alone, never from their bodies', () => {
    const { lab } = filled()
    const db = new Database(path.join(lab.folder, 'lab.db'), { readonly: true })
    const steps = (index: string): readonly string[] =>
      (db.prepare(`EXPLAIN SELECT id, start_id, in_force_id, workload_id, outcome, place, set_aside FROM record ${index} WHERE kind = 'run' ORDER BY id`).all() as { p4: string | null }[]).map(({ p4 }) => p4 ?? '')
    const reading = (index: string): boolean => steps(index).some((step) => step.startsWith('json_extract'))
    expect([reading('NOT INDEXED'), reading('INDEXED BY run_list')]).toEqual([true, false])
    db.close()
  })
})
