import { describe, expect, it } from 'vitest'
import type { JournalBody, JournalBodyOf } from '@guardband/model'
import { journalBodies, journalFile, journalIds, newLab, reopen, testSources } from './support.ts'

const AT = '2026-11-05T09:00:30.000Z'
const WATCHER = '019b2c3d-0000-7000-8000-00000000000c'

function fresh() {
  const { newId } = testSources({}, 7)
  const ids = journalIds(newId)
  const watch: JournalBodyOf<'watch'> = { type: 'watch', at: AT, format: 1, journal: newId(), program: 'test', rig: 'north bench', bootId: 'boot of the companion', previous: null }
  const saw = (what: JournalBodyOf<'saw'>['what'], text: string, about: Partial<JournalBodyOf<'saw'>> = {}): JournalBody => ({ type: 'saw', at: AT, what, journal: ids.journal, startId: ids.startId, runId: null, text, ...about })
  return { lab: newLab(), ids, watch, saw, rig: journalFile(journalBodies(ids)), newId }
}

function take(lab: ReturnType<typeof newLab>, bytes: Uint8Array, who = 'companion of the north bench') {
  return lab.intakeJournal({ bytes, file: 'x.journal', who })
}

describe("a companion's file", () => {
  it('puts a POST code into the training of its start, and what else it saw beside the start or run that it names, under its own name', () => {
    const { lab, ids, watch, saw, rig } = fresh()
    take(lab, rig.bytes, 'north bench')
    const file = journalFile([watch, saw('POST code', '55'), saw('silence', 'nothing was heard for 90 s', { runId: ids.runs[1] }), saw('action', 'power switch', { runId: ids.runs[1], exitStatus: 0 }), saw('note', 'fan at full speed')])
    expect(take(lab, file.bytes)).toMatchObject({ journal: watch.journal, taken: true, runs: 0, remarks: [] })
    expect(lab.get(ids.startId)).toMatchObject({ training: { result: 'unknown', postCode: '55' }, note: `A companion saw at ${AT}: POST code, 55.\nA companion saw at ${AT}: note, fan at full speed.` })
    expect(lab.get(ids.runs[1])).toMatchObject({ outcome: 'scored', note: `A companion saw at ${AT}: silence, nothing was heard for 90 s.\nA companion saw at ${AT}: action, power switch, exit status 0.` })
    for (const id of [ids.startId, ids.runs[1]]) expect(lab.history.of(id, { from: 0, count: 1 }).entries[0].change.who).toBe('companion of the north bench')
    expect(lab.seenOfJournal(ids.journal).map(({ what, text }) => [what, text])).toEqual([['POST code', '55'], ['silence', 'nothing was heard for 90 s'], ['action', 'power switch'], ['note', 'fan at full speed']])
    expect(lab.rigs()).toMatchObject([{ journals: 1 }])
    expect(lab.check()).toEqual([])
  })

  it('leaves a POST code that the machine itself gave, and says what was seen all the same', () => {
    const { lab, ids, watch, saw } = fresh()
    take(lab, journalFile(journalBodies(ids).map((body): JournalBody => (body.type === 'start' ? { ...body, training: { result: 'full', postCode: 'A0' } } : body))).bytes)
    take(lab, journalFile([watch, saw('POST code', '55')]).bytes)
    expect(lab.get(ids.startId)).toMatchObject({ training: { result: 'full', postCode: 'A0' }, note: `A companion saw at ${AT}: POST code, 55.` })
  })

  it('may come before the journal that it speaks of, in pieces, and again: each is noted once', () => {
    const { lab, ids, watch, saw, rig } = fresh()
    const file = journalFile([watch, saw('silence', 'one'), saw('note', 'two', { runId: ids.runs[1] }), saw('heard again', 'three')])
    const send = (from: number, to: number) => lab.intakePiece({ journal: watch.journal, offset: file.cuts[from], bytes: file.bytes.subarray(file.cuts[from], file.cuts[to]), who: 'companion', device: WATCHER })
    send(0, 2)
    take(lab, rig.bytes.subarray(0, rig.cuts[6]), 'north bench')
    expect(lab.get(ids.startId)).toMatchObject({ note: `A companion saw at ${AT}: silence, one.` })
    expect(lab.changes({ count: 1 })[0]).toMatchObject({ who: 'companion' })
    send(2, 4)
    send(0, 4)
    take(lab, rig.bytes, 'north bench')
    take(lab, file.bytes)
    expect(lab.get(ids.startId)).toMatchObject({ note: `A companion saw at ${AT}: silence, one.\nA companion saw at ${AT}: heard again, three.` })
    expect(lab.get(ids.runs[1])).toMatchObject({ note: `A companion saw at ${AT}: note, two.` })
    expect(lab.check()).toEqual([])
  })

  it('that names neither start nor run is noted beside the start of the journal that it names; one that names nothing is held and waits', () => {
    const { lab, ids, watch, saw, rig } = fresh()
    take(lab, rig.bytes, 'north bench')
    take(lab, journalFile([watch, saw('note', 'one', { startId: null }), saw('note', 'two', { startId: null, journal: null })]).bytes)
    expect(lab.get(ids.startId)).toMatchObject({ note: `A companion saw at ${AT}: note, one.` })
    expect(lab.check()).toEqual([])
  })

  it('writes to no start that people entered, nor to one of another journal than it names', () => {
    const { lab, ids, watch, saw, rig, newId } = fresh()
    take(lab, rig.bytes, 'north bench')
    const { source: _source, note: _note, ...own } = lab.list('start')[0]
    const byHand = { ...own, id: newId(), order: 7 }
    lab.apply({ who: 'Ada Hollin', what: 'by hand', items: [{ before: null, after: byHand }] })
    const head = lab.head()
    take(lab, journalFile([watch, saw('note', 'one', { startId: byHand.id }), saw('note', 'two', { startId: byHand.id, journal: null }), saw('POST code', '55', { journal: newId() }), saw('note', 'three', { runId: ids.runs[0], journal: newId() })]).bytes)
    expect(lab.head()).toBe(head)
    expect(lab.get(byHand.id)).toEqual(byHand)
    expect(lab.check()).toEqual([])
  })

  it('is rebuilt from the journals folder alone, in any order, also after a crash before it was booked', async () => {
    const { lab, ids, watch, saw, rig } = fresh()
    const file = journalFile([watch, saw('POST code', '55'), saw('silence', 'one', { runId: ids.runs[0] })])
    take(lab, rig.bytes, 'north bench')
    take(lab, file.bytes)
    const said = [ids.startId, ids.runs[0]].map((id) => lab.get(id)?.note)
    const other = newLab(testSources({}, 3))
    await other.close()
    const { writeFileSync } = await import('node:fs')
    writeFileSync(`${other.folder}/journals/${watch.journal}.journal`, file.bytes)
    writeFileSync(`${other.folder}/journals/${ids.journal}.journal`, rig.bytes)
    const rebuilt = reopen(other.folder)
    expect([ids.startId, ids.runs[0]].map((id) => rebuilt.get(id)?.note)).toEqual(said)
    expect(rebuilt.get(ids.startId)).toMatchObject({ training: { postCode: '55' } })
    expect(rebuilt.check()).toEqual([])
  })
})
