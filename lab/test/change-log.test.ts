import Database from 'better-sqlite3'
import path from 'node:path'
import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { SpokenError, type LabRecord } from '@guardband/model'
import type { Lab } from '../index.ts'
import { createRecordStore } from '../store/record-store.ts'
import { adding, bench, BY, newLab, reopen, testSources } from './support.ts'

function sentenceOf(work: () => unknown): string {
  try {
    work()
  } catch (error) {
    if (error instanceof SpokenError) return error.sentence
    throw error
  }
  return 'nothing was thrown'
}

function contentOf(lab: Lab): string {
  const db = new Database(path.join(lab.folder, 'lab.db'), { readonly: true })
  try {
    return createRecordStore(db).digest()
  } finally {
    db.close()
  }
}

describe('the change log', () => {
  it('writes records that another opening of the folder then finds', async () => {
    const sources = testSources()
    const lab = newLab(sources)
    const { records, a } = bench(sources)
    const seq = lab.apply({ ...BY, items: adding(...records) })
    await lab.close()
    const again = reopen(lab.folder)
    expect(seq).toBe(2)
    expect(again.head()).toBe(2)
    expect(again.get(a.id)).toEqual(a)
    expect(again.list('part').map(({ name }) => name)).toEqual(['Quillon 14', 'Quillon 14R'])
    expect(again.changes({ count: 10 }).map(({ seq, who, what, items }) => ({ seq, who, what, items }))).toEqual([
      { seq: 2, who: 'Ada Hollin', what: 'Test', items: records.length },
      { seq: 1, who: 'guardband', what: 'Made the workspace Hollin & Pike', items: 1 },
    ])
    expect(again.changeItems(2).map(({ after }) => after)).toEqual(records)
  })

  it('refuses a change whose before is not what is stored, and writes nothing of it', () => {
    const sources = testSources()
    const lab = newLab(sources)
    const { a, b } = bench(sources)
    lab.apply({ ...BY, items: adding(a) })
    const stale = { ...a, name: 'Quillon 15' }
    expect(sentenceOf(() => lab.apply({ ...BY, items: [...adding(b), { before: stale, after: { ...a, name: 'Quillon 16' } }] }))).toBe(
      'part "Quillon 15": it has changed since it was read. Load it again and repeat the change.',
    )
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding(a) }))).toBe('part "Quillon 14": it is in the workspace already. Load it again and repeat the change.')
    expect(sentenceOf(() => lab.apply({ ...BY, items: [{ before: b, after: null }] }))).toBe('part "Quillon 14R": it is not in the workspace any more. Load it again and repeat the change.')
    expect(lab.head()).toBe(2)
    expect(lab.get(b.id)).toBeUndefined()
  })

  it('compares by content, not by the order of keys or by defaults left out', () => {
    const sources = testSources()
    const lab = newLab(sources)
    const { a } = bench(sources)
    lab.apply({ ...BY, items: adding(a) })
    const turned = { prices: [], slot: a.slot, name: a.name, id: a.id, kind: a.kind }
    expect(lab.apply({ ...BY, items: [{ before: turned, after: { ...a, name: 'Quillon 14 B' } }] })).toBe(3)
  })

  it('refuses what is no record, names one twice, is empty, or turns one record into another', () => {
    const sources = testSources()
    const lab = newLab(sources)
    const { a, b } = bench(sources)
    const nameless = { ...a, name: '' }
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding(nameless) }))).toContain(`part ${a.id}, name: `)
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding(a, a) }))).toBe('part "Quillon 14": a change must hold each record once; got it twice.')
    expect(sentenceOf(() => lab.apply({ ...BY, items: [] }))).toBe('a change must hold at least one record; got none.')
    expect(sentenceOf(() => lab.apply({ ...BY, items: [{ before: a, after: b }] }))).toBe('part "Quillon 14": before and after must be one record; got part "Quillon 14R" after it.')
    expect(lab.head()).toBe(1)
  })

  it('refuses a record that refers to what is not there, and a reference of the wrong kind', () => {
    const sources = testSources()
    const lab = newLab(sources)
    const { a, a1, rig, records, start, seats, t65 } = bench(sources)
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding(a1) }))).toBe(
      `sample "1": it names a part ${a.id}, which the workspace does not hold. Put the part in first, or in the same change.`,
    )
    lab.apply({ ...BY, items: adding(...records) })
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding({ ...a1, id: sources.newId(), partId: rig.id }) }))).toBe(
      `sample "1": it names a part ${rig.id}, but that is a rig. Put the part in first, or in the same change.`,
    )
    const [first, held, run] = start(seats[0], t65, [40])
    const [second, otherHeld] = start(seats[0], t65, [])
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding(first, held, second, otherHeld, { ...run, inForceId: otherHeld.id }) }))).toBe(
      'run of tile render, all cores on Quillon 14 1 (cold start 1, 65 W, run 1): what was in force belongs to another start than the run.',
    )
  })

  it('refuses to take out what something refers to, unless that goes too', () => {
    const sources = testSources()
    const lab = newLab(sources)
    const { a, a1, a2, b, records, start, seats, t65, workload, suite, about } = bench(sources)
    lab.apply({ ...BY, items: adding(...records) })
    const [first, held, run] = start(seats[0], t65, [40])
    lab.apply({ ...BY, items: adding(first, held, run) })
    const out = (...gone: readonly LabRecord[]) => sentenceOf(() => lab.apply({ ...BY, items: gone.map((before) => ({ before, after: null })) }))
    expect(out(a)).toBe('part "Quillon 14": it can\'t be taken out while sample "1" refers to it. Take that out first, or in the same change.')
    expect(out(a1)).toMatch(/^sample "1": it can't be taken out while assembly on rig "north bench" with Quillon 14 1 refers/)
    expect(out(t65)).toMatch(/^tune "65 W": it can't be taken out while cold start 1, 65 W of Quillon 14 1 refers/)
    expect(out(first)).toMatch(/^cold start 1, 65 W of Quillon 14 1: it can't be taken out while what was in force in cold start 1, 65 W of Quillon 14 1 refers/)
    expect(out(held)).toMatch(/^what was in force in cold start 1, 65 W of Quillon 14 1: it can't be taken out while run of tile render, all cores on Quillon 14 1 /)
    expect(out(workload)).toMatch(/^workload "tile render, all cores": it can't be taken out while suite "crew work" /)
    lab.ask({ ask: { kind: 'gain', about: about() } }, BY)
    expect(out(suite)).toBe(`suite "crew work": it can't be taken out while question "Quillon 14R against Quillon 14" refers to it. Take that out first, or in the same change.`)
    expect(out(b)).toMatch(/while question /)
    expect(out(a2, seats[1])).toBe('nothing was thrown')
    expect(out(run, held, first)).toBe('nothing was thrown')
    const [labItself] = lab.list('lab')
    expect(out(labItself)).toBe("the record of the workspace itself can't be taken out.")
  })
})

describe('a request', () => {
  const REQUEST = '01a0a0a0-0000-7000-8000-000000000001'

  it('that is sent twice is made once, and both senders hear its number, also after the workspace was opened anew', async () => {
    const sources = testSources()
    const lab = newLab(sources)
    const { a, b } = bench(sources)
    const sent = { ...BY, items: adding(a), request: REQUEST }
    expect(lab.apply(sent)).toBe(2)
    lab.apply({ ...BY, items: adding(b) })
    expect(lab.apply(sent)).toBe(2)
    await lab.close()
    const again = reopen(lab.folder)
    expect(again.apply({ ...sent, items: adding({ prices: [], slot: a.slot, name: a.name, id: a.id, kind: a.kind }) })).toBe(2)
    expect(again.head()).toBe(3)
  })

  it('that is used for another change is refused', () => {
    const sources = testSources()
    const lab = newLab(sources)
    const { a, b } = bench(sources)
    lab.apply({ ...BY, items: adding(a), request: REQUEST })
    for (const items of [adding(b), adding(a, b), adding({ ...a, name: 'Quillon 15' }), [{ before: a, after: null }]]) {
      expect(sentenceOf(() => lab.apply({ ...BY, items, request: REQUEST }))).toBe('change 2: it was made under the same request, but it is another change. Send it under an id of its own.')
    }
    expect(lab.head()).toBe(2)
  })

  it('that comes again after its change was taken back is refused, and stands again once that is taken back', () => {
    const sources = testSources()
    const lab = newLab(sources)
    const { a } = bench(sources)
    const sent = { ...BY, items: adding(a), request: REQUEST }
    lab.apply(sent)
    lab.undo(2, BY)
    expect(sentenceOf(() => lab.apply(sent))).toBe('change 2: it was made under this request and taken back since, by change 3. Take back change 3, or make the change anew.')
    expect(lab.get(a.id)).toBeUndefined()
    lab.undo(3, BY)
    expect(lab.apply(sent)).toBe(2)
    expect([lab.head(), lab.get(a.id)]).toEqual([4, a])
  })
})

describe('undo', () => {
  it('is a new change that brings the records back, and can itself be undone', () => {
    const sources = testSources()
    const lab = newLab(sources)
    const { a } = bench(sources)
    lab.apply({ ...BY, items: adding(a) })
    const renamed = lab.apply({ ...BY, what: 'Renamed it', items: [{ before: a, after: { ...a, name: 'Quillon 15' } }] })
    const undone = lab.undo(renamed, { who: 'Bo Pike', why: 'wrong part' })
    expect(lab.get(a.id)).toEqual(a)
    expect(lab.changes({ count: 1 })[0]).toMatchObject({ seq: undone, who: 'Bo Pike', what: 'Took back change 3: Renamed it', why: 'wrong part', undoes: renamed })
    lab.undo(undone, { who: 'Bo Pike', why: '' })
    expect(lab.get(a.id)).toMatchObject({ name: 'Quillon 15' })
    expect(lab.undo(renamed, { who: 'Bo Pike', why: '' })).toBe(6)
    expect(lab.get(a.id)).toEqual(a)
  })

  it('is refused with the later changes and the records they touched', () => {
    const sources = testSources()
    const lab = newLab(sources)
    const { a, b } = bench(sources)
    const seq = lab.apply({ ...BY, items: adding(a, b) })
    const second = { ...a, name: 'Quillon 15' }
    lab.apply({ ...BY, items: [{ before: a, after: second }] })
    lab.apply({ ...BY, items: [{ before: second, after: { ...a, name: 'Quillon 16' } }] })
    expect(sentenceOf(() => lab.undo(seq, BY))).toBe('change 2: it can\'t be taken back, since changes 3, 4 touched part "Quillon 16" after it. Take back the later ones first.')
    lab.undo(4, BY)
    expect(sentenceOf(() => lab.undo(seq, BY))).toContain('since change 3 touched part "Quillon 15"')
    expect(sentenceOf(() => lab.undo(4, BY))).toBe('change 4: it was taken back already, by change 5. Take back change 5 to bring it in force again.')
    expect(sentenceOf(() => lab.undo(99, BY))).toBe('there is no change 99. The last one is 5.')
    lab.undo(3, BY)
    lab.undo(seq, BY)
    expect(lab.list('part')).toEqual([])
  })

  it('of every change of a random history leads back to the same content, and of those undos forward again', async () => {
    const step = fc.record({ part: fc.nat(4), what: fc.constantFrom('name', 'remove', 'undo'), name: fc.string({ minLength: 1, maxLength: 8 }).filter((name) => name.trim() !== ''), pick: fc.nat() })
    await fc.assert(
      fc.asyncProperty(fc.array(step, { minLength: 1, maxLength: 25 }), async (steps) => {
        const sources = testSources()
        const lab = newLab(sources)
        const before = contentOf(lab)
        const ids = Array.from({ length: 5 }, () => sources.newId())
        const seqs: number[] = []
        for (const { part, what, name, pick } of steps) {
          const held = lab.get(ids[part]) ?? null
          if (what === 'undo' && seqs.length > 0) {
            try {
              seqs.push(lab.undo(seqs[pick % seqs.length], BY))
            } catch (error) {
              expect(error).toBeInstanceOf(SpokenError)
            }
          } else if (what !== 'remove' || held !== null) {
            const after: LabRecord | null = what === 'remove' ? null : { kind: 'part', id: ids[part], name, slot: 'processor', prices: [] }
            seqs.push(lab.apply({ ...BY, items: [{ before: held, after }] }))
          }
        }
        const full = contentOf(lab)
        const undos: number[] = []
        for (const seq of seqs.toReversed()) {
          try {
            undos.push(lab.undo(seq, BY))
          } catch (error) {
            // Taken back within the history already.
            expect((error as SpokenError).code).toBe('undone-already')
          }
        }
        expect(contentOf(lab)).toBe(before)
        expect(lab.check()).toEqual([])
        for (const seq of undos.toReversed()) lab.undo(seq, BY)
        expect(contentOf(lab)).toBe(full)
        await lab.close()
      }),
      { numRuns: 40, seed: 20261105 },
    )
  })
})
