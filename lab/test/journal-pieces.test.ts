import { readFileSync, rmSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { JOURNAL_LIMIT, sha256Hex, SpokenError, type JournalBody } from '@guardband/model'
import type { Lab } from '../index.ts'
import { folderState, journalBodies, journalFile, journalIds, newLab, reopen, testSources } from './support.ts'

const RIG = '019b2c3d-0000-7000-8000-00000000000a'
const OTHER = '019b2c3d-0000-7000-8000-00000000000b'

function fresh() {
  const lab = newLab()
  const { newId } = testSources({}, 7)
  const ids = journalIds(newId)
  return { lab, newId, ids, ...journalFile(journalBodies(ids)) }
}

function piece(lab: Lab, journal: string, offset: number, bytes: Uint8Array, device = RIG) {
  return lab.intakePiece({ journal, offset, bytes, who: 'north bench', device })
}

function codeOf(work: () => unknown): string {
  try {
    work()
  } catch (error) {
    if (error instanceof SpokenError) return error.code
    throw error
  }
  return 'nothing was thrown'
}

function onDisk(lab: Lab, journal: string): Buffer {
  return readFileSync(path.join(lab.folder, 'journals', `${journal}.journal`))
}

/** What a lab holds of runs and their surroundings, whatever ids its own records have. */
function booked(lab: Lab) {
  return {
    starts: lab.list('start').map(({ id }) => id),
    inForce: lab.list('in force').map(({ id }) => id),
    runs: lab.list('run').map(({ id, outcome, measures }) => ({ id, outcome, measures })),
    names: lab.list('tune').map(({ name }) => name),
  }
}

describe('pieces of a journal', () => {
  it('a line at a time come to the same as the whole file, and the check has nothing to say at any moment', () => {
    const { lab, ids, bytes, cuts } = fresh()
    const whole = newLab()
    whole.intakeJournal({ bytes, file: 'x', who: 'north bench' })
    for (let line = 0; line + 1 < cuts.length; line++) {
      const reply = piece(lab, ids.journal, cuts[line], bytes.subarray(cuts[line], cuts[line + 1]))
      expect(reply.held).toEqual({ bytes: cuts[line + 1], sha256: sha256Hex(bytes.subarray(0, cuts[line + 1])) })
      expect(onDisk(lab, ids.journal).equals(bytes.subarray(0, cuts[line + 1]))).toBe(true)
      expect(lab.check()).toEqual([])
    }
    expect(booked(lab)).toEqual(booked(whole))
    expect(lab.heldJournal(ids.journal, RIG)).toEqual({ bytes: bytes.length, sha256: sha256Hex(bytes) })
  })

  it('overlapping, repeated and empty ones change nothing that is held', () => {
    const { lab, ids, bytes, cuts } = fresh()
    piece(lab, ids.journal, 0, bytes.subarray(0, cuts[6]))
    const head = lab.head()
    for (const [from, to] of [[0, cuts[6]], [cuts[2], cuts[6]], [cuts[6], cuts[6]], [0, cuts[1]], [cuts[6], cuts[6]]]) expect(piece(lab, ids.journal, from, bytes.subarray(from, to))).toMatchObject({ taken: false, runs: 0, held: { bytes: cuts[6] } })
    expect(lab.head()).toBe(head)
    expect(piece(lab, ids.journal, cuts[3], bytes.subarray(cuts[3]))).toMatchObject({ taken: true, runs: 1, held: { bytes: bytes.length } })
  })

  it('with a gap, with other bytes at a place that is held, cut within a line, of another journal, or of too many bytes are refused and nothing changes', () => {
    const { lab, ids, newId, bytes, cuts } = fresh()
    piece(lab, ids.journal, 0, bytes.subarray(0, cuts[4]))
    const state = () => ({ head: lab.head(), digest: lab.digest(), journals: folderState(path.join(lab.folder, 'journals')) })
    const before = state()
    const twin = journalFile(journalBodies(ids).map((body): JournalBody => (body.type === 'start' ? { ...body, how: 'cold' } : body)))
    const foreign = journalFile(journalBodies(journalIds(newId)))
    expect([
      codeOf(() => piece(lab, ids.journal, cuts[4] + 1, bytes.subarray(cuts[4] + 1))),
      codeOf(() => piece(lab, ids.journal, 0, twin.bytes)),
      codeOf(() => piece(lab, ids.journal, cuts[1], twin.bytes.subarray(twin.cuts[1]))),
      codeOf(() => piece(lab, ids.journal, cuts[4], bytes.subarray(cuts[4], cuts[5] - 1))),
      codeOf(() => piece(lab, newId(), 0, foreign.bytes)),
      codeOf(() => piece(lab, newId(), 0, Buffer.from('not a journal\n'))),
      codeOf(() => piece(lab, newId(), 0, Buffer.alloc(JOURNAL_LIMIT + 1, 0x0a))),
    ]).toEqual(['journal-gap', 'journal-fork', 'journal-fork', 'journal-piece', 'journal-other', 'journal-other', 'journal-too-long'])
    expect(state()).toEqual(before)
  })

  it('that hold a damaged line are held as they are, and what comes after it is booked', () => {
    const { lab, ids, bytes, cuts } = fresh()
    const damaged = Buffer.from(bytes)
    damaged[cuts[4] + 120] ^= 1
    for (let line = 0; line + 1 < cuts.length; line++) expect(piece(lab, ids.journal, cuts[line], damaged.subarray(cuts[line], cuts[line + 1])).held.bytes).toBe(cuts[line + 1])
    expect(onDisk(lab, ids.journal).equals(damaged)).toBe(true)
    expect(lab.list('run')).toHaveLength(2)
    expect(lab.check()).toEqual([])
  })

  it('cut and sent at random, with repeats, come to the whole journal, booked once', () => {
    const share = fc.double({ min: 0, max: 1, noNaN: true })
    fc.assert(
      fc.property(fc.array(fc.tuple(share, share), { minLength: 1, maxLength: 12 }), (pieces) => {
        const { lab, ids, bytes, cuts } = fresh()
        let held = 0
        for (const [back, on] of [...pieces, [0, 1] as const]) {
          const [from, to] = [Math.round(back * held), held + Math.round(on * (cuts.length - 1 - held))]
          expect(piece(lab, ids.journal, cuts[from], bytes.subarray(cuts[from], cuts[to])).held.bytes).toBe(cuts[to])
          held = to
        }
        expect(lab.info().counts).toMatchObject({ starts: 1, runs: 2 })
        expect(onDisk(lab, ids.journal).equals(bytes)).toBe(true)
      }),
      { numRuns: 10 },
    )
  })
})

describe('which device hands a journal over', () => {
  it('is the one that began it: another can neither add to it nor ask for it', () => {
    const { lab, ids, bytes, cuts } = fresh()
    piece(lab, ids.journal, 0, bytes.subarray(0, cuts[5]))
    expect([
      codeOf(() => piece(lab, ids.journal, cuts[5], bytes.subarray(cuts[5]), OTHER)),
      codeOf(() => lab.heldJournal(ids.journal, OTHER)),
    ]).toEqual(['journal-foreign', 'journal-foreign'])
    expect(onDisk(lab, ids.journal)).toHaveLength(cuts[5])
  })

  it('is, once the first was shut out, the one that was let in under its name, and no other', () => {
    const { lab, ids, bytes, cuts } = fresh()
    const [rig, foreign, again] = ['north bench', 'south bench', 'north bench'].map((name, place) => lab.devices.add({ name, tokenHash: `${place}` }).id)
    piece(lab, ids.journal, 0, bytes.subarray(0, cuts[5]), rig)
    expect(codeOf(() => piece(lab, ids.journal, cuts[5], bytes.subarray(cuts[5]), again))).toBe('journal-foreign')
    lab.devices.revoke(rig)
    expect(codeOf(() => piece(lab, ids.journal, cuts[5], bytes.subarray(cuts[5]), foreign))).toBe('journal-foreign')
    expect(piece(lab, ids.journal, cuts[5], bytes.subarray(cuts[5]), again).held.bytes).toBe(bytes.length)
    expect(lab.heldJournal(ids.journal, again).bytes).toBe(bytes.length)
  })

  it('of a journal that a person brought on a stick is the one that goes on with it', () => {
    const { lab, ids, bytes, cuts } = fresh()
    lab.intakeJournal({ bytes: bytes.subarray(0, cuts[5]), file: 'x', who: 'Ada Hollin' })
    expect(piece(lab, ids.journal, cuts[5], bytes.subarray(cuts[5]))).toMatchObject({ held: { bytes: bytes.length } })
    expect(codeOf(() => lab.heldJournal(ids.journal, OTHER))).toBe('journal-foreign')
  })
})

describe('what a person took back', () => {
  it('stays out when the rig goes on: a run alone, or the whole start; the bytes are held', () => {
    const { lab, ids, bytes, cuts } = fresh()
    piece(lab, ids.journal, 0, bytes.subarray(0, cuts[6]))
    const { change } = piece(lab, ids.journal, cuts[6], bytes.subarray(cuts[6], cuts[8]))
    lab.undo(change ?? 0, { who: 'Ada Hollin', why: 'a door was open' })
    expect(piece(lab, ids.journal, cuts[8], bytes.subarray(cuts[8]))).toMatchObject({ runs: 0, remarks: [`Run ${ids.runs[1]}, step b1.t1.w1.r2: a person took it back, so it stays out.`] })
    expect(lab.list('run').map(({ id }) => id)).toEqual([ids.runs[0]])
    expect(onDisk(lab, ids.journal).equals(bytes)).toBe(true)
    const second = fresh()
    piece(second.lab, second.ids.journal, 0, second.bytes.subarray(0, second.cuts[6]))
    second.lab.undo(2, { who: 'Ada Hollin', why: '' })
    expect(piece(second.lab, second.ids.journal, second.cuts[6], second.bytes.subarray(second.cuts[6]))).toMatchObject({ change: null, remarks: [`The start of journal ${second.ids.journal} was taken back by a person, so it stays out; the file is held.`] })
    expect(second.lab.info().counts).toMatchObject({ starts: 0, runs: 0, rigs: 0 })
    expect([...lab.check(), ...second.lab.check()]).toEqual([])
  })
})

describe('a start that a person took back and then put in again', () => {
  it('gets the runs that came meanwhile when its journal is taken in once more, each once', () => {
    const { lab, ids, bytes, cuts } = fresh()
    piece(lab, ids.journal, 0, bytes.subarray(0, cuts[6]))
    const undone = lab.undo(2, { who: 'Ada Hollin', why: 'the wrong start' })
    expect(piece(lab, ids.journal, cuts[6], bytes.subarray(cuts[6]))).toMatchObject({ change: null })
    lab.undo(undone, { who: 'Ada Hollin', why: 'it was the right one' })
    expect(lab.list('run')).toHaveLength(1)
    const again = () => lab.intakeJournal({ bytes, file: 'x', who: 'Ada Hollin' })
    expect(again()).toMatchObject({ taken: true, runs: 1 })
    expect(lab.list('run').map(({ id }) => id)).toEqual(ids.runs)
    expect(again()).toMatchObject({ taken: false, seenBefore: true, runs: 0 })
    expect(lab.check()).toEqual([])
  })
})

describe('a hub that is killed', () => {
  it('between the bytes and their records books them at the next opening, under the name of the device, and a retried piece adds nothing', async () => {
    const { lab, ids, bytes, cuts } = fresh()
    const device = lab.devices.add({ name: 'north bench', tokenHash: 'x' }).id
    piece(lab, ids.journal, 0, bytes.subarray(0, cuts[6]), device)
    await lab.close()
    writeFileSync(path.join(lab.folder, 'journals', `${ids.journal}.journal`), bytes)
    const again = reopen(lab.folder)
    expect(again.changes({ count: 1 })[0]).toMatchObject({ who: 'north bench' })
    expect(again.info().counts).toMatchObject({ starts: 1, runs: 2 })
    const head = again.head()
    expect(piece(again, ids.journal, cuts[6], bytes.subarray(cuts[6]), device)).toMatchObject({ taken: false, held: { bytes: bytes.length } })
    expect(again.head()).toBe(head)
    expect(again.check()).toEqual([])
  })

  it('or whose disk was full between the two, books them with the piece that is sent again', () => {
    const { lab, ids, bytes, cuts } = fresh()
    piece(lab, ids.journal, 0, bytes.subarray(0, cuts[6]))
    writeFileSync(path.join(lab.folder, 'journals', `${ids.journal}.journal`), bytes)
    expect(piece(lab, ids.journal, cuts[6], bytes.subarray(cuts[6]))).toMatchObject({ taken: true, runs: 1, held: { bytes: bytes.length } })
    expect(lab.info().counts).toMatchObject({ starts: 1, runs: 2 })
    expect(lab.check()).toEqual([])
  })

  it('while it wrote leaves what was held before, and whatever lies beside it is not taken for a journal', async () => {
    const { lab, ids, bytes, cuts } = fresh()
    piece(lab, ids.journal, 0, bytes.subarray(0, cuts[6]))
    await lab.close()
    writeFileSync(path.join(lab.folder, 'journals', `.part-${ids.journal}.journal.1`), bytes.subarray(0, cuts[7] - 3))
    const again = reopen(lab.folder)
    expect(again.heldJournal(ids.journal, RIG).bytes).toBe(cuts[6])
    expect(piece(again, ids.journal, cuts[6], bytes.subarray(cuts[6]))).toMatchObject({ runs: 1 })
    expect(again.check()).toEqual([])
  })

  it('whose copy of the file went back to an older state is told the truth about what is held, and takes the rest again', () => {
    const { lab, ids, bytes, cuts } = fresh()
    piece(lab, ids.journal, 0, bytes)
    writeFileSync(path.join(lab.folder, 'journals', `${ids.journal}.journal`), bytes.subarray(0, cuts[3]))
    expect(lab.heldJournal(ids.journal, RIG).bytes).toBe(cuts[3])
    piece(lab, ids.journal, cuts[3], bytes.subarray(cuts[3]))
    rmSync(path.join(lab.folder, 'journals', `${ids.journal}.journal`))
    expect(lab.heldJournal(ids.journal, RIG).bytes).toBe(0)
    piece(lab, ids.journal, 0, bytes)
    expect(onDisk(lab, ids.journal).equals(bytes)).toBe(true)
    expect(lab.info().counts).toMatchObject({ starts: 1, runs: 2 })
    expect(lab.check()).toEqual([])
  })
})
