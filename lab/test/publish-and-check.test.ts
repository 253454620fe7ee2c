import { readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { sha256Hex, snapshotDigest, snapshotSchema } from '@guardband/model'
import { adding, bench, BY, journalBodies, journalFile, journalIds, newLab, reopen, testSources } from './support.ts'

const answerWorker = new URL('children/answer-worker.ts', import.meta.url)
const renderReport = (input: { readonly title: string; readonly number: number; readonly answers: readonly { readonly basis: { readonly sentence: string } }[] }): string =>
  `<h1>${input.number} ${input.title}</h1>${input.answers.map(({ basis }) => basis.sentence).join()}`

function filled(sources = testSources({ answerWorker, renderReport })) {
  const lab = newLab(sources)
  const world = bench(sources)
  lab.apply({ ...BY, items: adding(...world.records, ...world.start(world.seats[0], world.t65, [40, 41]), ...world.start(world.seats[2], world.t65, [38])) })
  const question = lab.ask({ title: 'plain', ask: { kind: 'gain', about: world.about() } }, BY)
  const tamper = (sql: string): void => {
    const db = new Database(path.join(lab.folder, 'lab.db'))
    db.exec(sql)
    db.close()
  }
  return { lab, question, tamper, ...world }
}

describe('publishing', () => {
  it('writes a numbered report and its snapshots, and a record with their digests', async () => {
    const { lab, question } = filled()
    const report = await lab.publish({ title: 'Größer & schneller?', questionIds: [question], who: 'Ada Hollin' })
    expect(report).toMatchObject({ number: 1, file: '1-gro-er-schneller.html', title: 'Größer & schneller?', answers: [{ questionId: question, snapshotDigest: lab.snapshot(question).digest }] })
    const html = readFileSync(path.join(lab.folder, 'reports', report.file))
    expect(html.toString()).toBe('<h1>1 Größer & schneller?</h1>3 runs')
    expect(sha256Hex(html)).toBe(report.fileDigest)
    const snapshots = snapshotSchema.array().parse(JSON.parse(readFileSync(path.join(lab.folder, 'reports', '1-gro-er-schneller.snapshots.json'), 'utf8')))
    expect(snapshots.map(snapshotDigest)).toEqual([lab.snapshot(question).digest])
    expect(lab.list('report')).toEqual([report])
    expect(lab.changes({ count: 1 })[0].what).toBe('Published report 1: Größer & schneller?')
    const second = await lab.publish({ title: '!!!', questionIds: [question, question], who: 'Ada Hollin' })
    expect(second).toMatchObject({ number: 2, file: '2-report.html' })
    expect(second.answers.length).toBe(1)
    expect(lab.check()).toEqual([])
  })

  it('never writes over the file of a report that was taken back', async () => {
    const { lab, question } = filled()
    await lab.publish({ title: 'First', questionIds: [question], who: 'Ada Hollin' })
    lab.undo(lab.head(), BY)
    const again = await lab.publish({ title: 'First', questionIds: [question], who: 'Ada Hollin' })
    expect(again).toMatchObject({ number: 1, file: '1-first-2.html' })
    expect(readdirSync(path.join(lab.folder, 'reports')).toSorted()).toEqual(['1-first-2.html', '1-first-2.snapshots.json', '1-first.html', '1-first.snapshots.json'])
    expect(lab.check().map(({ place }) => place)).toEqual(['reports/1-first.html', 'reports/1-first.snapshots.json'])
  })

  it('uses the real renderer when no other is given', async () => {
    const { lab, question } = filled(testSources())
    const report = await lab.publish({ title: 'Real', questionIds: [question], who: 'Ada Hollin' })
    const html = readFileSync(path.join(lab.folder, 'reports', report.file), 'utf8')
    expect(html).toMatch(/^<!doctype html>/i)
    expect(html).toContain('Quillon 14R')
    expect(lab.check()).toEqual([])
  })

  it('of nothing, or of a question that is not there, is refused', async () => {
    const { lab } = filled()
    await expect(lab.publish({ title: 'x', questionIds: [], who: 'Ada Hollin' })).rejects.toThrow('a report must hold at least one question; got none.')
    await expect(lab.publish({ title: 'x', questionIds: [testSources({}, 9).newId()], who: 'Ada Hollin' })).rejects.toThrow('there is no question')
    expect(readdirSync(path.join(lab.folder, 'reports'))).toEqual([])
  })
})

describe('the check', () => {
  it('is clean on a workspace that was only used through its doors', async () => {
    const { lab, question } = filled()
    lab.intakeJournal({ bytes: journalFile(journalBodies(journalIds(testSources({}, 7).newId))).bytes, file: 'x', who: 'north bench' })
    await lab.publish({ title: 'First', questionIds: [question], who: 'Ada Hollin' })
    expect(lab.check()).toEqual([])
  })

  it('finds a damaged page that opening does not read, and says nothing of what the damage may have made up', async () => {
    const { lab } = filled()
    await lab.close()
    const file = path.join(lab.folder, 'lab.db')
    const db = new Database(file)
    const { rootpage } = db.prepare<[], { rootpage: number }>("SELECT rootpage FROM sqlite_master WHERE name = 'answer_by_question'").get() ?? { rootpage: 0 }
    const size = Number(db.pragma('page_size', { simple: true }))
    db.close()
    writeFileSync(file, readFileSync(file).fill(0xff, (rootpage - 1) * size, rootpage * size))
    const findings = reopen(lab.folder).check()
    expect(findings.map(({ place }) => place)).toEqual(findings.map(() => 'lab.db'))
    expect(findings[0].sentence).toMatch(/^lab\.db is damaged: [^\n]*page \d+[^\n]*\. Restore a copy of the workspace, or rebuild it: make a new one and take in the journals\/ folder and the CSV files again\.$/)
  })

  it('finds a record changed behind the log’s back', () => {
    const { lab, tamper, a } = filled()
    tamper(`UPDATE record SET body = replace(body, 'Quillon 14"', 'Quillon 99"') WHERE id = '${a.id}'`)
    expect(lab.check()).toEqual([{ place: `part ${a.id}`, sentence: 'The change log does not lead to the record as it is stored.' }])
  })

  it('finds a record that is gone, one that is not sound, and one that points nowhere', () => {
    const { lab, tamper, a, rig } = filled()
    tamper(`DELETE FROM record WHERE id = '${a.id}'`)
    const places = lab.check().map(({ place, sentence }) => `${place}: ${sentence}`)
    expect(places).toContain(`sample "1": it names a part ${a.id}, which the workspace does not hold.`)
    expect(places).toContain(`${a.id}: The change log holds this record, but it is not stored.`)
    tamper(`UPDATE record SET body = '{"kind":"rig","id":"${rig.id}","name":""}' WHERE id = '${rig.id}'`)
    expect(lab.check()).toContainEqual({ place: `rig ${rig.id}`, sentence: 'The record is not sound.' })
  })

  it('finds a log with a hole, and an entry that does not follow from those before', () => {
    const { lab, tamper, a } = filled()
    const before = lab.get(a.id)
    if (before?.kind !== 'part') throw new Error('the part is there')
    const seq = lab.apply({ ...BY, items: [{ before, after: { ...before, name: 'Quillon 15' } }] })
    tamper(`UPDATE change_item SET before = NULL WHERE seq = ${seq}`)
    expect(lab.check()).toEqual([{ place: `change ${seq}`, sentence: `It says of part ${a.id} another state before than the changes up to it left.` }])
    tamper(`PRAGMA foreign_keys = OFF; DELETE FROM change WHERE seq = 2`)
    expect(lab.check().map(({ sentence }) => sentence)).toContain('Change 2 is missing before it.')
  })

  it('finds reports and journals that are gone or not the ones acknowledged', async () => {
    const { lab, question } = filled()
    const ids = journalIds(testSources({}, 7).newId)
    lab.intakeJournal({ bytes: journalFile(journalBodies(ids)).bytes, file: 'x', who: 'north bench' })
    await lab.publish({ title: 'First', questionIds: [question], who: 'Ada Hollin' })
    const report = path.join(lab.folder, 'reports', '1-first')
    const journal = path.join(lab.folder, 'journals', `${ids.journal}.journal`)
    writeFileSync(`${report}.html`, 'better')
    writeFileSync(`${report}.snapshots.json`, '[]')
    writeFileSync(journal, readFileSync(journal).subarray(10))
    expect(lab.check().map(({ sentence }) => sentence)).toEqual([
      'The journal is not the file that was taken in.', 'The published report is not the file that was published.', 'The snapshots are not those that the report was made from.',
    ])
    for (const file of [`${report}.html`, `${report}.snapshots.json`, journal]) rmSync(file)
    expect(lab.check().map(({ sentence }) => sentence)).toEqual([
      'The journal is gone; its runs are in the database.', 'The published report is gone.', 'The snapshots of the report are gone.',
    ])
  })
})

describe('lists', () => {
  it('count starts and runs of samples, tunes and rigs, and follow every change', () => {
    const { lab, seats, start, t65, t95, a } = filled()
    expect(lab.parts().map(({ part, samples }) => [part.name, samples.map(({ sample, starts, runs }) => [sample.label, starts, runs])])).toEqual([
      ['Quillon 14', [['1', 1, 2], ['2', 0, 0]]], ['Quillon 14R', [['1', 1, 1]]],
    ])
    const seq = lab.apply({ ...BY, items: adding(...start(seats[1], t65, [50], { at: '2026-11-05T12:00:00Z' }, t95)) })
    expect(lab.tunes().map(({ tune, starts, runs }) => [tune.name, starts, runs])).toEqual([['65 W', 2, 3], ['95 W', 1, 1]])
    expect(lab.rigs()[0]).toMatchObject({ starts: 3, journals: 0, lastStart: '2026-11-05T12:00:00Z' })
    expect(lab.runs({ from: 0, count: 1 })).toMatchObject({ total: 4, rows: [{ sample: 'Quillon 14 2', tune: '95 W', asked: '65 W', at: '2026-11-05T12:00:00Z' }] })
    const all = lab.runs({ from: 0, count: 10 }).rows.map(({ id }) => id)
    expect(lab.runs({ from: 1, count: 2 }).rows.map(({ id }) => id)).toEqual(all.slice(1, 3))
    expect(lab.runs({ from: 0, count: 10, ids: [all[2], all[0], a.id] })).toMatchObject({ total: 2, rows: [{ id: all[0] }, { id: all[2] }] })
    lab.undo(seq, BY)
    expect(lab.tunes().map(({ runs }) => runs)).toEqual([3, 0])
    expect(lab.info().counts).toMatchObject({ runs: 3, starts: 2, questions: 1 })
  })
})
