// What a rig's journal says beyond starts and runs: live changes, clocks, people's answers, kept output, and rigs that were copied.
import { createHash } from 'node:crypto'
import { describe, expect, it } from 'vitest'
import { SpokenError, type JournalBody, type Plan } from '@guardband/model'
import { journalBodies, journalFile, journalIds, newLab, testPlan, testSources } from './support.ts'

const AT = '2026-11-05T09:00:00.000Z'
const LATER = '2026-11-05T09:30:00.000Z'
const RIG = '019b2c3d-0000-7000-8000-00000000000a'

function fresh() {
  const { newId } = testSources({}, 7)
  return { lab: newLab(), newId, ids: journalIds(newId) }
}

function take(lab: ReturnType<typeof newLab>, bodies: readonly JournalBody[]) {
  return lab.intakeJournal({ bytes: journalFile(bodies).bytes, file: 'x.journal', who: 'north bench' })
}

function answer(who: string, via: 'phone' | 'terminal', text: string): JournalBody {
  return { type: 'answer', at: AT, step: 'b1.t1', asked: 'Look at the machine: is this what is in force?', answer: text, who, via }
}

function hashOf(bytes: Uint8Array): string {
  return createHash('sha256').update(bytes).digest('hex')
}

async function rejection(work: Promise<unknown>): Promise<string> {
  return work.then(() => 'nothing was thrown', (error: unknown) => (error instanceof SpokenError ? error.code : String(error)))
}

describe('a live change within a start', () => {
  const steps: Plan['steps'] = [
    { kind: 'change', id: 'c1', tune: '65 W', start: 'warm' }, { kind: 'run', id: 'r1', workload: 'tile render, all cores' },
    { kind: 'adjust', id: 'a1', tune: '95 W' }, { kind: 'run', id: 'r2', workload: 'tile render, all cores' },
  ]
  const { design: _design, ...base } = testPlan()

  it('splits it: each run refers to what held for it, and the first stretch ends where the second begins, whichever piece brings it', () => {
    const { lab, ids, newId } = fresh()
    const second = newId()
    const [open, start, held, begin, , end, beginNext, endNext] = journalBodies(ids, { plan: { ...base, steps } })
    const bodies = [open, start, held, begin, end, { ...held, at: LATER, inForceId: second, tune: '95 W', observed: [] }, { ...beginNext, inForceId: second }, endNext] as readonly JournalBody[]
    const { bytes, cuts } = journalFile(bodies)
    lab.intakePiece({ journal: ids.journal, offset: 0, bytes: bytes.subarray(0, cuts[5]), who: 'north bench', device: RIG })
    expect(lab.list('in force')[0]).not.toHaveProperty('to')
    lab.intakePiece({ journal: ids.journal, offset: cuts[5], bytes: bytes.subarray(cuts[5]), who: 'north bench', device: RIG })
    const [one, other] = lab.list('tune')
    expect(lab.list('in force')).toMatchObject([{ id: ids.inForceId, startId: ids.startId, tuneId: one.id, from: AT, to: LATER }, { id: second, startId: ids.startId, tuneId: other.id, from: LATER }])
    expect(lab.list('run').map(({ inForceId, startId }) => [inForceId, startId])).toEqual([[ids.inForceId, ids.startId], [second, ids.startId]])
    expect(lab.tunes().map(({ runs }) => runs)).toEqual([1, 1])
    expect(lab.check()).toEqual([])
  })

  it('that did not come in force is named by its own tune among what was not run', () => {
    const { lab, ids, newId } = fresh()
    const [open, start, held, begin, , end] = journalBodies(ids, { plan: { ...base, steps } })
    const notRun: JournalBody = { type: 'done', at: LATER, step: 'r2', message: 'not run: read-back did not match' }
    const reply = take(lab, [open, start, held, begin, end, { ...held, at: LATER, inForceId: newId(), tune: null }, notRun] as readonly JournalBody[])
    expect(reply).toMatchObject({ runs: 1, remarks: [`The tune "95 W" was not in force in the start of ${AT}, so a run of it was not run.`] })
  })
})

describe('what an end says more', () => {
  it('is kept with its run: phase, place, passes and bytes; a workload that only passes or fails has no measure and stands in no suite', () => {
    const { lab, ids } = fresh()
    const { design: _design, ...base } = testPlan()
    const plan = testPlan({ ...base, design: { tunes: ['65 W'], workloads: ['memory check'], startsPerTune: 1, repeats: 2, start: 'warm' }, workloads: [{ name: 'memory check', selfCheck: { kernel: 'memory', seconds: 60 }, measures: [], weight: 1 }] })
    const bodies = journalBodies(ids, { plan }).map((body): JournalBody => {
      if (body.type === 'begin') return { ...body, workload: 'memory check' }
      return body.type === 'end' ? { ...body, outcome: 'errors', measures: [], exposure: { passes: 3, bytes: 4096 }, phase: 'heavy', place: 'channel A' } : body
    })
    expect(take(lab, bodies)).toMatchObject({ runs: 2, remarks: [] })
    expect(lab.get(ids.runs[0])).toMatchObject({ outcome: 'errors', measures: [], exposure: { seconds: 41.5, passes: 3, bytes: 4096 }, phase: 'heavy', place: 'channel A' })
    expect(lab.list('suite')).toEqual([])
    expect(lab.check()).toEqual([])
  })
})

describe('a ladder that walks back down', () => {
  it('books its rungs by their ids, also where the record of the start is damaged', () => {
    const { lab, ids } = fresh()
    const { design: _design, ...base } = testPlan()
    const plan: Plan = { ...base, steps: [{ kind: 'ladder', id: 'up', tunes: ['65 W', '95 W'], workload: 'tile render, all cores', repeats: 2, start: 'warm', stopAfterFailures: 1, stepDown: { repeats: 2 } }] }
    const bodies = journalBodies(ids, { plan, tune: '95 W' }).map((body): JournalBody => {
      if (body.type === 'open') return { ...body, step: 'up' }
      return body.type === 'begin' || body.type === 'end' ? { ...body, step: body.step.replace('b1.t1.w1.', 'up/d2/') } : body
    })
    const file = journalFile(bodies)
    const bytes = Buffer.from(file.bytes)
    for (const line of [1, 2]) bytes[file.cuts[line] + 120] ^= 1
    expect(lab.intakeJournal({ bytes, file: 'x', who: 'north bench' })).toMatchObject({ runs: 2 })
    expect(lab.runs({ from: 0, count: 1 }).rows[0]).toMatchObject({ asked: '95 W' })
  })
})

describe('the clock of a rig', () => {
  it('is kept with the start as it was known best, against the workspace before any other, and the times stay the rig\'s own', () => {
    const { lab, ids } = fresh()
    const own = lab.info().lab.id
    const [open, ...rest] = journalBodies(ids)
    const clock = (against: string, offset: number, within: number): JournalBody => ({ type: 'clock', at: AT, against, offset, within })
    const bodies = [open, clock('companion', 3, 0.001), clock(own, 3600.5, 0.2), ...rest.slice(0, 3), clock(own, 3600.25, 0.05), clock(own, 3600.75, 0.4), ...rest.slice(3)]
    const { bytes, cuts } = journalFile(bodies)
    lab.intakePiece({ journal: ids.journal, offset: 0, bytes: bytes.subarray(0, cuts[5]), who: 'north bench', device: RIG })
    expect(lab.get(ids.startId)).toMatchObject({ at: AT, clock: { against: own, offset: 3600.5, within: 0.2 } })
    lab.intakePiece({ journal: ids.journal, offset: cuts[5], bytes: bytes.subarray(cuts[5]), who: 'north bench', device: RIG })
    expect(lab.get(ids.startId)).toMatchObject({ at: AT, clock: { against: own, offset: 3600.25, within: 0.05 } })
    expect(lab.check()).toEqual([])
  })

  it('of a companion is kept where no other was measured; without any there is none', () => {
    const { lab, ids, newId } = fresh()
    const [open, ...rest] = journalBodies(ids)
    take(lab, [open, { type: 'clock', at: AT, against: 'companion', offset: 3, within: 0.001 }, ...rest])
    const other = journalIds(newId)
    take(lab, journalBodies(other))
    expect(lab.get(ids.startId)).toMatchObject({ clock: { against: 'companion', offset: 3, within: 0.001 } })
    expect(lab.get(other.startId)).not.toHaveProperty('clock')
  })
})

describe('what people said', () => {
  it('stands beside what was in force where a person vouched for it, and beside the run that it was about', () => {
    const { lab, ids } = fresh()
    const [open, start, held, begin, beat, end, ...rest] = journalBodies(ids)
    const seen = { ...held, known: 'seen by a person' } as JournalBody
    expect(take(lab, [open, answer('somebody else', 'terminal', ''), answer('Pike\'s phone', 'phone', 'yes'), start, seen, begin, answer('Ada Hollin', 'terminal', '41.5'), beat, end, answer('Ada Hollin', 'terminal', 'go on'), ...rest])).toMatchObject({ remarks: [] })
    expect(lab.get(ids.inForceId)).toMatchObject({ known: 'seen by a person', note: 'Seen by Pike\'s phone, on a phone.' })
    expect(lab.get(ids.runs[0])).toMatchObject({ note: 'Ada Hollin said "41.5", at the terminal.' })
    expect(lab.get(ids.runs[1])).not.toHaveProperty('note')
  })

  it('is no proof of what was read back', () => {
    const { lab, ids } = fresh()
    const [open, start, ...rest] = journalBodies(ids)
    take(lab, [open, answer('Ada Hollin', 'terminal', ''), start, ...rest])
    expect(lab.get(ids.inForceId)).not.toHaveProperty('note')
  })
})

describe('what a failed run printed', () => {
  const printed = Buffer.from('<script>alert(1)</script> segmentation fault\n')

  function failed() {
    const { lab, ids } = fresh()
    const bodies = journalBodies(ids).map((body): JournalBody => (body.type === 'end' && body.runId === ids.runs[0] ? { ...body, outcome: 'program died', measures: [], kept: [{ what: 'error output', sha256: hashOf(printed), bytes: printed.length, cut: true }] } : body))
    const file = { run: ids.runs[0], what: 'error output', sha256: hashOf(printed), bytes: printed, who: 'north bench', device: RIG } as const
    const send = () => lab.intakePiece({ journal: ids.journal, offset: 0, bytes: journalFile(bodies).bytes, who: 'north bench', device: RIG })
    return { lab, ids, file, send }
  }

  it('is evidence about its run once its journal is there, as a text, and once however often it is sent', async () => {
    const { lab, ids, file, send } = failed()
    expect(await rejection(lab.keepFileOfRun(file))).toBe('kept-not-yet')
    send()
    const kept = await lab.keepFileOfRun(file)
    expect(await lab.keepFileOfRun(file)).toEqual(kept)
    expect(lab.evidence.about(ids.runs[0])).toMatchObject([{ name: 'error output.txt', mediaType: 'text/plain', by: 'north bench', bytes: printed.length, note: 'Longer than a rig keeps: only its end is here.' }])
    expect(lab.evidence.file(kept?.evidence.id ?? '', 'file').picture).toBeNull()
    expect(lab.check()).toEqual([])
  })

  it('is refused with other bytes, under another run, as something else, from another device; and stays off when a person took it off', async () => {
    const { lab, ids, file, send } = failed()
    send()
    const other = Buffer.from('something else')
    expect([
      await rejection(lab.keepFileOfRun({ ...file, bytes: other })),
      await rejection(lab.keepFileOfRun({ ...file, bytes: other, sha256: hashOf(other) })),
      await rejection(lab.keepFileOfRun({ ...file, run: ids.runs[1] })),
      await rejection(lab.keepFileOfRun({ ...file, what: 'output' })),
      await rejection(lab.keepFileOfRun({ ...file, device: ids.journal })),
    ]).toEqual(['file-not-sent', 'kept-not-named', 'kept-not-named', 'kept-not-named', 'journal-foreign'])
    expect(lab.list('evidence')).toEqual([])
    const kept = await lab.keepFileOfRun(file)
    lab.undo(kept?.change ?? 0, { who: 'Ada Hollin', why: 'names a customer' })
    expect(await lab.keepFileOfRun(file)).toBeNull()
    expect(lab.list('evidence')).toEqual([])
    expect(lab.check()).toEqual([])
  })
})

describe('a rig that was copied', () => {
  it('is a caution on its page, with the journals that follow one and the same', () => {
    const { lab, ids, newId } = fresh()
    const first = journalFile(journalBodies(ids))
    const previous = { journal: ids.journal, lastHash: first.lastHash }
    const [one, twin] = [journalIds(newId), journalIds(newId)]
    take(lab, journalBodies(ids))
    take(lab, journalBodies(one, { order: 1, previous }))
    const rig = lab.list('rig')[0].id
    expect(lab.samples.rig(rig).cautions).toBeUndefined()
    const sentence = `Journals ${one.journal} and ${twin.journal} both follow ${ids.journal}: the rig was copied, or restored from a copy.`
    expect(take(lab, journalBodies(twin, { order: 1, previous })).remarks).toEqual([sentence])
    expect(lab.samples.rig(rig).cautions).toEqual([sentence])
  })
})

describe('a workload without measures', () => {
  const plan = testPlan({ workloads: [{ name: 'tile render, all cores', command: { run: ['render'], timeLimitSeconds: 600 }, measures: [], weight: 1 }] })
  const passed = (ids: ReturnType<typeof journalIds>) => journalBodies(ids, { plan }).map((body): JournalBody => (body.type === 'end' ? { ...body, outcome: 'passed', measures: [], exposure: { passes: 4 } } : body))

  it('has its runs booked as passed, with their exposure, and no suite weighs it', () => {
    const { lab, ids } = fresh()
    expect(take(lab, passed(ids))).toMatchObject({ runs: 2, remarks: [] })
    expect(lab.list('workload')).toMatchObject([{ name: 'tile render, all cores', measures: [] }])
    expect(lab.list('run')).toMatchObject([{ outcome: 'passed', measures: [], exposure: { seconds: 41.5, passes: 4 } }, { outcome: 'passed', measures: [] }])
    expect(lab.list('suite')).toEqual([])
    expect(lab.check()).toEqual([])
  })

  it('leaves a suite to those beside it that have some', () => {
    const { lab, ids } = fresh()
    const mixed = testPlan({ workloads: [...plan.workloads, ...testPlan().workloads.map((workload) => ({ ...workload, name: 'code build' }))] })
    take(lab, journalBodies(ids, { plan: mixed }).map((body): JournalBody => (body.type === 'end' ? { ...body, outcome: 'passed', measures: [] } : body)))
    const [build] = lab.list('workload').filter(({ name }) => name === 'code build')
    expect(lab.list('suite').map(({ items }) => items.map(({ workloadId }) => workloadId))).toEqual(lab.list('suite').map(() => [build.id]))
    expect(lab.check()).toEqual([])
  })
})

it('what a person carries out takes time, which is no exposure of the machine', () => {
  const { lab, ids } = fresh()
  const plan = testPlan({ workloads: [{ name: 'tile render, all cores', prompt: { text: 'Render it.' }, measures: [], weight: 1 }] })
  take(lab, journalBodies(ids, { plan }).map((body): JournalBody => (body.type === 'end' ? { ...body, outcome: 'passed', measures: [] } : body)))
  expect(lab.list('run')[0]).not.toHaveProperty('exposure')
})

const report = (ids: ReturnType<typeof journalIds>, tune: string | null, found: number): readonly JournalBody[] => {
  const [open, start, held, begin, , end, beginNext, endNext, close] = journalBodies(ids)
  if (held.type !== 'in force' || endNext.type !== 'end') throw new Error('as journalBodies has them')
  const unverified: JournalBody = { ...held, known: 'unverified', observed: [] }
  const corrected: JournalBody = { ...held, at: LATER, tune, known: 'read back', observed: [{ key: 'package power', expected: 65, found, unit: 'W', matches: tune !== null }] }
  return [open, start, unverified, begin, end, beginNext, corrected, tune === null ? { ...endNext, outcome: 'fallback start', message: 'package power must read 65; got 30' } : endNext, close]
}

describe('what a workload reports of the tune in force', () => {
  it.each(['whole', 'in pieces'])('takes every run of that stretch from the tune where it contradicts, the earlier ones too, handed over %s', (way) => {
    const { lab, ids } = fresh()
    const { bytes, cuts } = journalFile(report(ids, null, 30))
    const hand = (from: number, to: number) => lab.intakePiece({ journal: ids.journal, offset: from, bytes: bytes.subarray(from, to), who: 'north bench', device: RIG })
    if (way === 'in pieces') {
      // Up to the first run's end: booked under the tune, as was known then.
      hand(0, cuts[5])
      expect(lab.list('in force')).toMatchObject([{ tuneId: expect.any(String), known: 'unverified' }])
      expect(lab.list('start')).toMatchObject([{ result: 'started' }])
    }
    hand(way === 'in pieces' ? cuts[5] : 0, bytes.length)
    expect(lab.list('in force')).toHaveLength(1)
    const [held] = lab.list('in force')
    expect(held).not.toHaveProperty('tuneId')
    expect(held).toMatchObject({ from: AT, known: 'read back', settings: [{ key: 'package power', value: { value: 30 } }] })
    expect(lab.list('start')).toMatchObject([{ result: 'fallback start' }])
    expect(lab.runs({ from: 0, count: 5 }).rows.map(({ tune }) => tune)).toEqual([null, null])
    expect(lab.list('run').map(({ outcome }) => outcome)).toEqual(['scored', 'fallback start'])
    expect(take(lab, report(ids, null, 30))).toMatchObject({ runs: 0 })
    expect(lab.check()).toEqual([])
  })

  it('makes the stretch known as read back where it agrees, and leaves it one stretch', () => {
    const { lab, ids } = fresh()
    const { bytes, cuts } = journalFile(report(ids, '65 W', 65))
    const hand = (from: number, to: number) => lab.intakePiece({ journal: ids.journal, offset: from, bytes: bytes.subarray(from, to), who: 'north bench', device: RIG })
    hand(0, cuts[5])
    hand(cuts[5], bytes.length)
    expect(lab.list('in force')).toMatchObject([{ tuneId: expect.any(String), known: 'read back', settings: [{ value: { value: 65 } }] }])
    expect(lab.list('start')).toMatchObject([{ result: 'started' }])
    expect(lab.tunes().find(({ runs }) => runs > 0)?.runs).toBe(2)
    expect(lab.check()).toEqual([])
  })
})
