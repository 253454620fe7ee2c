import { readFileSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { SpokenError, type JournalBody, type LabRecord, type Plan } from '@guardband/model'
import type { JournalIntake, Lab } from '../index.ts'
import { adding, BY, folderState, journalBodies, journalFile, journalIds, newLab, reopen, testPlan, testSources } from './support.ts'

function take(lab: Lab, bytes: Uint8Array, file = 'x.journal'): JournalIntake {
  return lab.intakeJournal({ bytes, file, who: 'north bench' })
}

function rejected(work: () => unknown): SpokenError {
  try {
    work()
  } catch (error) {
    if (error instanceof SpokenError) return error
    throw error
  }
  throw new Error('nothing was thrown')
}

function fresh() {
  const sources = testSources()
  const lab = newLab(sources)
  const rig = testSources({}, 7)
  return { lab, sources, newId: rig.newId, ids: journalIds(rig.newId) }
}

function crashed() {
  const { lab, ids, newId } = fresh()
  const first = journalFile(journalBodies(ids).slice(0, 7))
  const next = journalIds(newId)
  const bodies = journalBodies(next, { order: 1, previous: { journal: ids.journal, lastHash: first.lastHash } })
  const resolved: JournalBody = { type: 'resolved', at: '2026-11-05T09:10:00.000Z', journal: ids.journal, step: 'b1.t1.w1.r2', runId: ids.runs[1], outcome: 'machine reset', evidence: 'another boot id' }
  const second = journalFile([bodies[0], resolved, ...bodies.slice(1)])
  return { lab, ids, first, second, next }
}

describe('taking in a journal', () => {
  it('keeps its bytes and books start, in force, runs and all names of its plan in one change', () => {
    const { lab, ids } = fresh()
    const { bytes } = journalFile(journalBodies(ids))
    expect(take(lab, bytes)).toEqual({ journal: ids.journal, taken: true, seenBefore: false, change: 2, runs: 2, remarks: [] })
    expect(readFileSync(path.join(lab.folder, 'journals', `${ids.journal}.journal`)).equals(bytes)).toBe(true)
    expect(lab.list('start')).toMatchObject([
      { id: ids.startId, at: '2026-11-05T09:00:00.000Z', order: 0, how: 'warm', result: 'started', conditions: { firmware: 'F1', cooling: 'Burrow 120', ambient: 21.5 }, source: ids.journal },
    ])
    const tunes = lab.list('tune')
    expect(tunes.map(({ name, settings }) => [name, settings.length])).toEqual([['65 W', 1], ['95 W', 0]])
    expect(lab.list('in force')).toMatchObject([
      { id: ids.inForceId, startId: ids.startId, tuneId: tunes[0].id, known: 'read back', settings: [{ key: 'package power', value: { shape: 'scalar', value: 65, unit: 'W' } }] },
    ])
    expect(lab.list('run').map(({ id, order, outcome, measures, exposure }) => ({ id, order, outcome, measures, exposure }))).toEqual([
      { id: ids.runs[0], order: 0, outcome: 'scored', measures: [{ name: 'time', value: 41.5 }], exposure: { seconds: 41.5 } },
      { id: ids.runs[1], order: 1, outcome: 'scored', measures: [{ name: 'time', value: 41.75 }], exposure: { seconds: 41.75 } },
    ])
    expect(lab.rigs()).toMatchObject([{ rig: { name: 'north bench' }, journals: 1, starts: 1, assemblies: [{ slots: [{ slot: 'processor', part: 'Quillon 14', sample: '1' }, { slot: 'memory', part: 'Marram 5600' }] }] }])
    expect(lab.list('suite').map(({ name, items }) => [name, items.map(({ weight }) => weight)])).toEqual([['Power limits', [3]], ['All workloads', [1]]])
    expect(lab.list('sample')[0]).toMatchObject({ batch: 'week 31', origin: 'retail', picked: 'at random' })
    expect(lab.check()).toEqual([])
  })

  it('twice changes nothing', () => {
    const { lab, ids } = fresh()
    const { bytes } = journalFile(journalBodies(ids))
    take(lab, bytes)
    const before = folderState(path.join(lab.folder, 'journals'))
    expect(take(lab, bytes)).toMatchObject({ taken: false, seenBefore: true, change: null, runs: 0 })
    expect(lab.head()).toBe(2)
    expect(folderState(path.join(lab.folder, 'journals'))).toEqual(before)
  })

  it('cut at every line and then whole, books each record once', () => {
    const { lab, ids } = fresh()
    const whole = journalFile(journalBodies(ids))
    let runs = 0
    for (const cut of whole.cuts.slice(1)) runs += take(lab, whole.bytes.subarray(0, cut)).runs
    expect(runs).toBe(2)
    expect(lab.list('run').map(({ id }) => id).toSorted()).toEqual([...ids.runs].toSorted())
    expect(lab.info().counts).toMatchObject({ starts: 1, parts: 2, samples: 2, tunes: 2 })
    expect(take(lab, whole.bytes.subarray(0, whole.cuts[4]))).toMatchObject({ seenBefore: true })
    expect(readFileSync(path.join(lab.folder, 'journals', `${ids.journal}.journal`)).length).toBe(whole.bytes.length)
    expect(lab.check()).toEqual([])
  })

  it('with a last record cut short says so and books the rest, later the whole', () => {
    const { lab, ids } = fresh()
    const whole = journalFile(journalBodies(ids))
    const reply = take(lab, whole.bytes.subarray(0, whole.cuts[6] + 40))
    expect(reply).toMatchObject({ runs: 1, remarks: ['x.journal: the last 40 bytes are a record whose writing was cut short; it was never acknowledged and is left out.'] })
    expect(take(lab, whole.bytes)).toMatchObject({ runs: 1, remarks: [] })
  })

  it('finds by name what the workspace holds, whoever put it there', () => {
    const { lab, ids, newId } = fresh()
    lab.intakeRuns({ text: 'part,sample,tune,rig,start,workload,measure,unit,direction,value\nQuillon 14,1,65 W,north bench,1,"tile render, all cores",time,s,lower,42', file: 'runs.csv', who: 'Ada Hollin', only: 'take' })
    take(lab, journalFile(journalBodies(ids)).bytes)
    take(lab, journalFile(journalBodies(journalIds(newId), { order: 1 })).bytes)
    expect(lab.info().counts).toMatchObject({ parts: 2, samples: 2, tunes: 2, rigs: 1, starts: 3, runs: 5 })
    expect(lab.list('workload').length).toBe(1)
    expect(lab.list('tune')[0].settings.length).toBe(1)
    expect(lab.list('sample').find(({ label }) => label === '1')).toMatchObject({ batch: 'week 31', picked: 'at random' })
  })

  it('keeps a tune of the same name with other settings, and a workload of another version, apart', () => {
    const { lab, ids, newId } = fresh()
    take(lab, journalFile(journalBodies(ids)).bytes)
    const base = testPlan()
    const plan = testPlan({
      id: 'plan-2', title: 'Power limits again',
      tunes: [{ ...base.tunes[0], settings: [{ key: 'package power', scope: { level: 'machine' }, asked: { shape: 'scalar', value: 66, unit: 'W' } }] }, base.tunes[1]],
      workloads: [{ ...base.workloads[0], version: '2' }],
    })
    const first = take(lab, journalFile(journalBodies(journalIds(newId), { plan })).bytes)
    expect(first.remarks).toEqual(['The plan\'s tune "65 W" has other settings than the workspace\'s; it is kept as "65 W (plan-2)".'])
    expect(lab.list('tune').map(({ name }) => name)).toEqual(['65 W', '95 W', '65 W (plan-2)'])
    const third = testPlan({ ...plan, id: 'plan-3', tunes: base.tunes, workloads: [{ ...base.workloads[0], version: '3' }] })
    expect(take(lab, journalFile(journalBodies(journalIds(newId), { plan: third })).bytes).remarks).toEqual([
      'Workload "tile render, all cores" of plan plan-3 differs from the workspace\'s in version or measures; it is kept as another one.',
    ])
    expect(lab.list('workload').map(({ version }) => version)).toEqual(['2', '3'])
  })

  it('of a start where the tune read back is not the one asked counts for no tune', () => {
    const { lab, ids } = fresh()
    const bodies = journalBodies(ids).map((body): JournalBody => (body.type === 'in force' ? { ...body, tune: null } : body))
    take(lab, journalFile(bodies).bytes)
    expect(lab.runs({ from: 0, count: 1 }).rows[0]).toMatchObject({ tune: null, asked: '65 W' })
  })

  it('is refused as a fork when it says something else than the one taken in before, and changes nothing', () => {
    const { lab, ids } = fresh()
    const bodies = journalBodies(ids)
    take(lab, journalFile(bodies).bytes)
    const before = folderState(path.join(lab.folder, 'journals'))
    const other = bodies.map((body): JournalBody => (body.type === 'end' && body.runId === ids.runs[1] ? { ...body, measures: [{ name: 'time', value: 39 }] } : body))
    const error = rejected(() => take(lab, journalFile([...other, bodies[8]]).bytes, 'fork.journal'))
    expect(error.code).toBe('journal-fork')
    expect(error.sentence).toBe(
      `fork.journal, record 7: this is another journal with the id ${ids.journal}: it says something else than the one taken in before. Two rigs share an identity, or a disk was restored; nothing of this file was taken in.`,
    )
    expect(lab.head()).toBe(2)
    expect(folderState(path.join(lab.folder, 'journals'))).toEqual(before)
  })

  it('reports damage with its line and byte, and books what is sound', () => {
    const { lab, ids } = fresh()
    const whole = journalFile(journalBodies(ids))
    const bytes = Buffer.from(whole.bytes)
    bytes[whole.cuts[5] + 120] ^= 1
    const reply = take(lab, bytes)
    expect(reply).toMatchObject({ taken: true, runs: 1 })
    expect(reply.remarks).toEqual([`x.journal, line 6 (byte ${whole.cuts[5]}, ${whole.cuts[6] - whole.cuts[5]} bytes) is damaged and was left out: the checksum does not fit the line.`])
    expect(lab.list('run').map(({ id }) => id)).toEqual([ids.runs[1]])
    expect(take(lab, whole.bytes)).toMatchObject({ taken: true, runs: 1, remarks: [] })
    expect(lab.check()).toEqual([])
  })

  it('refuses a longer copy that lacks records taken in before', () => {
    const { lab, ids } = fresh()
    take(lab, journalFile(journalBodies(ids)).bytes)
    const longer = journalFile([...journalBodies(ids), { type: 'note', at: '2026-11-05T09:00:00.000Z', text: 'more' }])
    const bytes = Buffer.from(longer.bytes)
    bytes[longer.cuts[5] + 120] ^= 1
    expect(rejected(() => take(lab, bytes)).sentence).toBe(`x.journal: this copy of journal ${ids.journal} holds 1 new record but lacks 1 that was taken in before. Copy the file from the rig again.`)
    expect(take(lab, longer.bytes)).toMatchObject({ taken: true, runs: 0, change: null })
    expect(lab.check()).toEqual([])
  })

  it('books runs whose in-force record is damaged for no tune', () => {
    const { lab, ids } = fresh()
    const whole = journalFile(journalBodies(ids))
    const bytes = Buffer.from(whole.bytes)
    bytes[whole.cuts[2] + 120] ^= 1
    const reply = take(lab, bytes)
    expect(reply.runs).toBe(2)
    expect(reply.remarks[1]).toBe('Step b1.t1.w1.r1: the record of what was in force is not in the journal, so its runs count for no tune.')
    expect(lab.runs({ from: 0, count: 1 }).rows[0]).toMatchObject({ tune: null, known: 'unverified' })
  })

  it('that is no journal is reported, not thrown', () => {
    const { lab, ids } = fresh()
    expect(take(lab, Buffer.from('hello\n'), 'notes.txt')).toEqual({
      journal: null, taken: false, seenBefore: false, change: null, runs: 0,
      remarks: ['notes.txt: this is no journal, or its opening record is damaged, so nothing could be taken in.', 'notes.txt, line 1 (byte 0, 6 bytes) is damaged and was left out: the line is not a record (sequence, checksum, hash, body).'],
    })
    const whole = journalFile(journalBodies(ids))
    expect(take(lab, whole.bytes.subarray(whole.cuts[1]))).toMatchObject({ journal: null, taken: false })
    expect(lab.head()).toBe(1)
  })

  it('does not come in again once a person took it back', () => {
    const { lab, ids } = fresh()
    const { bytes } = journalFile(journalBodies(ids))
    take(lab, bytes)
    const seq = lab.undo(2, { ...BY, why: 'wrong rig' })
    expect(rejected(() => take(lab, bytes)).sentence).toBe(`journal ${ids.journal}: what was taken in from it was taken back (change 2). Take back the change that did so, then take the journal in again.`)
    lab.undo(seq, BY)
    expect(take(lab, bytes)).toMatchObject({ seenBefore: true })
  })
})

describe('a step in flight', () => {
  it('is not booked until the next journal resolves it', () => {
    const { lab, ids, first, second } = crashed()
    expect(take(lab, first.bytes)).toMatchObject({ runs: 1, remarks: [] })
    expect(lab.get(ids.runs[1])).toBeUndefined()
    expect(take(lab, second.bytes)).toMatchObject({ runs: 3, remarks: [] })
    expect(lab.get(ids.runs[1])).toMatchObject({ startId: ids.startId, outcome: 'machine reset', measures: [], note: 'another boot id' })
    expect(lab.info().counts.failedRuns).toBe(1)
  })

  it('is booked also when the journals come in the other order', () => {
    const { lab, ids, first, second } = crashed()
    expect(take(lab, second.bytes).remarks).toEqual([
      `The journal before this one, ${ids.journal}, has not been taken in.`,
      `Step b1.t1.w1.r2 of journal ${ids.journal} is resolved here; it is booked once that journal has been taken in.`,
    ])
    expect(take(lab, first.bytes)).toMatchObject({ runs: 2, remarks: [] })
    expect(lab.get(ids.runs[1])).toMatchObject({ outcome: 'machine reset' })
    expect(lab.check()).toEqual([])
  })

  it('ended in a fuller copy of its own journal is what the end says, and stays set aside if it was', () => {
    const { lab, ids, first, second } = crashed()
    take(lab, first.bytes)
    take(lab, second.bytes)
    lab.setAside(ids.runs[1], { who: 'Ada Hollin', reason: 'power cut' })
    const whole = journalFile(journalBodies(ids))
    expect(take(lab, whole.bytes)).toMatchObject({ taken: true, runs: 0 })
    expect(lab.get(ids.runs[1])).toMatchObject({ outcome: 'scored', measures: [{ value: 41.75 }], setAside: { reason: 'power cut' } })
  })

  it('two journals after the same one show as a copied rig, and an older copy of the one before is named', () => {
    const { lab, ids, first, second, next } = crashed()
    take(lab, first.bytes.subarray(0, first.cuts[6]))
    expect(take(lab, second.bytes).remarks).toContain(`Journal ${ids.journal} ends otherwise than this one says of it; perhaps an older copy of it was taken in.`)
    const twin = journalIds(testSources({}, 9).newId)
    const reply = take(lab, journalFile(journalBodies(twin, { order: 1, previous: { journal: ids.journal, lastHash: first.lastHash } })).bytes)
    expect(reply.remarks).toContain(`Journals ${next.journal} and ${twin.journal} both follow ${ids.journal}: the rig was copied, or restored from a copy.`)
    expect(reply.taken).toBe(true)
  })
})

function booked(lab: Lab) {
  return { starts: lab.list('start').length, held: lab.list('in force').length, runs: lab.list('run').length, parts: lab.list('part').length }
}

/** A body of the second rung of the ladder "up". */
function onRung(body: JournalBody): JournalBody {
  if (body.type === 'open') return { ...body, step: 'up' }
  return body.type === 'begin' || body.type === 'end' ? { ...body, step: body.step.replace('b1.t1.w1.', 'up/t2/') } : body
}

describe("the journal's later rules", () => {
  const AT = '2026-11-05T09:00:00.000Z'

  it('11: a run stopped by a person stays on record as that, and its step carried out afresh is another run', () => {
    const { lab, ids, newId } = fresh()
    const bodies = journalBodies(ids).slice(0, 8).map((body): JournalBody => (body.type === 'end' && body.runId === ids.runs[1] ? { ...body, outcome: 'stopped by a person', measures: [] } : body))
    const first = journalFile(bodies)
    const next = journalIds(newId)
    const [open, start, held, , , , begin, end] = journalBodies(next, { order: 1, previous: { journal: ids.journal, lastHash: first.lastHash } })
    expect(take(lab, first.bytes)).toMatchObject({ runs: 2, remarks: [] })
    expect(take(lab, journalFile([open, start, held, begin, end]).bytes)).toMatchObject({ runs: 1, remarks: [] })
    expect([ids.runs[1], next.runs[1]].map((id) => lab.get(id))).toMatchObject([{ outcome: 'stopped by a person', startId: ids.startId }, { outcome: 'scored', startId: next.startId }])
    expect(lab.info().counts).toMatchObject({ starts: 2, runs: 3, failedRuns: 0 })
  })

  it('11: a run is finished once: of two ends the first stands', () => {
    const { lab, ids } = fresh()
    const bodies = journalBodies(ids)
    take(lab, journalFile([...bodies.slice(0, 8), { ...bodies[7], outcome: 'errors', measures: [] } as JournalBody]).bytes)
    expect(lab.get(ids.runs[1])).toMatchObject({ outcome: 'scored', measures: [{ value: 41.75 }] })
  })

  it('14: a step that goes on after an interruption is a start of its own with the runs that were left', () => {
    const { lab, ids, first, second, next } = crashed()
    take(lab, first.bytes)
    take(lab, second.bytes)
    expect(lab.list('start').map(({ id, order, tuneId }) => [id, order, tuneId])).toEqual([[ids.startId, 0, lab.list('tune')[0].id], [next.startId, 1, lab.list('tune')[0].id]])
    expect(Object.groupBy(lab.list('run'), ({ startId }) => (startId === ids.startId ? 'first' : 'second'))).toMatchObject({ first: [{ id: ids.runs[0] }, { id: ids.runs[1] }], second: [{ id: next.runs[0] }, { id: next.runs[1] }] })
  })

  it('15: a file without a start holds none, whatever else it says, and is kept', () => {
    const { lab, ids } = fresh()
    const [open] = journalBodies(ids)
    const bodies: readonly JournalBody[] = [open, { type: 'note', at: AT, text: 'waits for a power-on' }, { type: 'done', at: AT, step: 'b1.t1' }, { type: 'close', at: AT, reason: 'a person is needed' }]
    const file = journalFile(bodies)
    for (const cut of file.cuts.slice(1)) expect(take(lab, file.bytes.subarray(0, cut))).toMatchObject({ taken: true, change: null, runs: 0, remarks: [] })
    expect(booked(lab)).toEqual({ starts: 0, held: 0, runs: 0, parts: 0 })
    expect(readFileSync(path.join(lab.folder, 'journals', `${ids.journal}.journal`)).equals(file.bytes)).toBe(true)
    expect(lab.check()).toEqual([])
  })

  it('15: a file that only closes a step in flight books that run under its own start, and no other', () => {
    const { lab, ids, first, second } = crashed()
    take(lab, first.bytes)
    expect(take(lab, second.bytes.subarray(0, second.cuts[2]))).toMatchObject({ runs: 1, remarks: [] })
    expect(lab.get(ids.runs[1])).toMatchObject({ startId: ids.startId, outcome: 'machine reset' })
    expect(booked(lab)).toMatchObject({ starts: 1, held: 1, runs: 2 })
  })

  it('15: where its record is damaged, runs prove a start: its tune is what was in force', () => {
    const { lab, ids } = fresh()
    const whole = journalFile(journalBodies(ids, { tune: '95 W' }))
    const bytes = Buffer.from(whole.bytes)
    bytes[whole.cuts[1] + 120] ^= 1
    expect(take(lab, bytes)).toMatchObject({ runs: 2 })
    expect(lab.runs({ from: 0, count: 1 }).rows[0]).toMatchObject({ tune: '95 W', asked: '95 W' })
  })

  it('16: a start whose tune did not come in force is a fallback start without runs, and what was not run is said', () => {
    const { lab, ids } = fresh()
    const [open, start, held] = journalBodies(ids)
    const notRun = ['b1.t1.w1.r1', 'b1.t1.w1.r2'].map((step): JournalBody => ({ type: 'done', at: AT, step, message: 'not run: read-back did not match' }))
    const bodies = [open, { ...start, result: 'fallback start', message: 'package power: 65 expected, 120 found' }, { ...held, tune: null, observed: [{ key: 'package power', expected: 65, found: 120, unit: 'W', matches: false }] }, { type: 'done', at: AT, step: 'b1.t1' }, ...notRun] as readonly JournalBody[]
    expect(take(lab, journalFile(bodies).bytes)).toMatchObject({ runs: 0, remarks: [`The tune "65 W" was not in force in the start of ${AT}, so 2 runs of it were not run.`] })
    expect(booked(lab)).toMatchObject({ starts: 1, held: 1, runs: 0 })
    expect(lab.list('start')[0]).toMatchObject({ result: 'fallback start', tuneId: lab.list('tune')[0].id, note: 'package power: 65 expected, 120 found' })
    expect(lab.list('in force')[0]).not.toHaveProperty('tuneId')
    expect(lab.tunes().map(({ starts, runs }) => [starts, runs])).toEqual([[0, 0], [0, 0]])
  })

  it('16: a tune that names nothing to read back is in force, unverified', () => {
    const { lab, ids } = fresh()
    take(lab, journalFile(journalBodies(ids).map((body): JournalBody => (body.type === 'in force' ? { ...body, known: 'unverified', observed: [] } : body))).bytes)
    expect(lab.runs({ from: 0, count: 1 }).rows[0]).toMatchObject({ tune: '65 W', known: 'unverified' })
  })

  it('16: where a person vouched for a tune against what was read, the value that was read is not booked as in force', () => {
    const { lab, ids } = fresh()
    const observed = [{ key: 'package power', expected: 65, found: 120, unit: 'W', matches: false }]
    take(lab, journalFile(journalBodies(ids).map((body): JournalBody => (body.type === 'in force' ? { ...body, known: 'seen by a person', observed } : body))).bytes)
    expect(lab.runs({ from: 0, count: 1 }).rows[0]).toMatchObject({ tune: '65 W', known: 'seen by a person' })
    expect(lab.list('in force')[0].settings).toEqual([])
  })

  it("17: a ladder's rung books its own tune, also where the record of its start is damaged", () => {
    const { lab, ids } = fresh()
    const { design: _design, ...base } = testPlan()
    const plan: Plan = { ...base, steps: [{ kind: 'ladder', id: 'up', tunes: ['65 W', '95 W'], workload: 'tile render, all cores', repeats: 2, start: 'warm', stopAfterFailures: 1 }] }
    const whole = journalFile(journalBodies(ids, { plan, tune: '95 W' }).map(onRung))
    const bytes = Buffer.from(whole.bytes)
    for (const line of [1, 2]) bytes[whole.cuts[line] + 120] ^= 1
    expect(take(lab, bytes)).toMatchObject({ runs: 2 })
    expect(lab.runs({ from: 0, count: 1 }).rows[0]).toMatchObject({ tune: null, asked: '95 W' })
    const sound = fresh()
    take(sound.lab, whole.bytes)
    expect(sound.lab.runs({ from: 0, count: 1 }).rows[0]).toMatchObject({ tune: '95 W', asked: '95 W' })
  })

  it('18: a start that did not come about is booked as evidence against its tune, with nothing in force and no run; the file before it holds none', () => {
    const { lab, ids, newId } = fresh()
    const [open] = journalBodies(ids)
    const first = journalFile([open, { type: 'note', at: AT, text: 'putting the tune in force for b1.t1' }])
    const next = journalIds(newId)
    const [again, start, held] = journalBodies(next, { order: 1, previous: { journal: ids.journal, lastHash: first.lastHash } })
    const second = journalFile([again, { ...start, result: 'no start' }, { ...held, tune: null, known: 'unverified', observed: [] }, { type: 'close', at: AT, reason: 'the machine restarted' }] as readonly JournalBody[])
    expect([take(lab, first.bytes), take(lab, second.bytes)]).toMatchObject([{ change: null, remarks: [] }, { runs: 0, remarks: [] }])
    expect(booked(lab)).toMatchObject({ starts: 1, held: 1, runs: 0 })
    expect(lab.list('start')[0]).toMatchObject({ id: next.startId, result: 'no start', tuneId: lab.list('tune')[0].id })
    expect(lab.list('in force')[0]).not.toHaveProperty('tuneId')
    expect(lab.check()).toEqual([])
  })
})

describe('a crash between keeping and booking a journal', () => {
  it('is made good at the next opening', async () => {
    const { lab, ids } = fresh()
    const whole = journalFile(journalBodies(ids))
    take(lab, whole.bytes.subarray(0, whole.cuts[6]))
    await lab.close()
    writeFileSync(path.join(lab.folder, 'journals', `${ids.journal}.journal`), whole.bytes)
    const again = reopen(lab.folder)
    expect(again.info().counts.runs).toBe(2)
    expect(again.changes({ count: 1 })[0]).toMatchObject({ who: 'guardband' })
    expect(again.check()).toEqual([])
  })

  it('leaves alone what can not be booked, and the check names it', async () => {
    const { lab } = fresh()
    await lab.close()
    writeFileSync(path.join(lab.folder, 'journals', 'foreign.journal'), 'not one')
    const again = reopen(lab.folder)
    expect(again.head()).toBe(1)
    expect(again.check()).toEqual([{ place: 'journals/foreign.journal', sentence: 'This file was not taken in. Take it in, or move it elsewhere.' }])
    again.apply({ ...BY, items: adding({ kind: 'rig', id: testSources({}, 5).newId(), name: 'south bench' }) })
  })
})

function takePlan(more: Partial<Plan>) {
  const { lab, newId } = fresh()
  const next = (plan: Partial<Plan>): JournalIntake => take(lab, journalFile(journalBodies(journalIds(newId), { plan: testPlan(plan) })).bytes)
  expect(next(more).remarks).toEqual([])
  const [a, b] = lab.list('tune').map(({ id }) => ({ tuneId: id }))
  return { lab, a, b, next }
}

describe('the smallest gain that a plan fixed', () => {
  const early = { percent: 2, fixedAt: '2026-11-01T08:00:00.000Z' }

  it('is kept with the plan\'s title and tunes, once for all of its journals, and goes when they are taken back', () => {
    const { lab, a, b, next } = takePlan({ smallestGain: early })
    const [campaign, second] = lab.list('campaign')
    expect(second).toBeUndefined()
    expect(campaign).toMatchObject({ name: 'Power limits', questionIds: [], tuneIds: [a.tuneId, b.tuneId], smallestGain: early })
    const { change } = next({ smallestGain: early })
    expect(lab.list('campaign')).toEqual([campaign])
    lab.undo(change ?? 0, { who: 'Ada', why: '' })
    lab.undo(2, { who: 'Ada', why: '' })
    expect(lab.list('campaign')).toEqual([])
    expect(lab.check()).toEqual([])
  })

  it('is what a question between its tunes starts from, with its time', () => {
    const { lab, a, b } = takePlan({ smallestGain: early })
    const offer = { from: 'plan', plan: 'Power limits', ...early }
    expect([lab.smallestGain({ a, b }), lab.smallestGain({ a: b, b: a })]).toEqual([offer, offer])
  })

  it('is not taken for a tune that another plan tried, for a part against a part, nor where the plan fixed none', () => {
    const { lab, a, b } = takePlan({ smallestGain: early })
    const other: LabRecord = { kind: 'tune', id: testSources({}, 9).newId(), name: '80 W', settings: [] }
    lab.apply({ ...BY, items: adding(other) })
    expect(lab.smallestGain({ a, b: { tuneId: other.id } })).toEqual({ from: 'house', percent: 0.5 })
    const [part, against] = lab.list('part').map(({ id }) => ({ partId: id }))
    expect(lab.smallestGain({ a: { ...a, ...part }, b: { ...b, ...against } })).toEqual({ from: 'house', percent: 1 })
    expect(lab.smallestGain({ a: part, b: against })).toEqual({ from: 'house', percent: 1 })
    const none = takePlan({})
    expect(none.lab.list('campaign')).toEqual([])
    expect(none.lab.smallestGain(none)).toEqual({ from: 'house', percent: 0.5 })
  })

  it('of the plan that fixed it last counts, and the earlier one stays on record', () => {
    const { lab, a, b, next } = takePlan({ smallestGain: early })
    const late = { percent: 0.25, fixedAt: '2026-11-04T08:00:00.000Z' }
    next({ id: 'plan-2', smallestGain: late })
    next({ id: 'plan-2', smallestGain: late })
    expect(lab.list('campaign').map(({ name, smallestGain }) => [name, smallestGain])).toEqual([['Power limits', early], ['Power limits (plan-2)', late]])
    expect(lab.smallestGain({ a, b })).toEqual({ from: 'plan', plan: 'Power limits (plan-2)', ...late })
  })
})
