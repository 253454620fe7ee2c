// What no change gets past, and what follows from what was run: ceilings, wet samples, quarantine.
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { canonicalJson, SpokenError, type LabRecord, type RecordOf, type Sample } from '@guardband/model'
import { importFile, keepStream, type Lab } from '../index.ts'
import { adding, bench, BY, newLab, reopen, temporaryFolder, testSources } from './support.ts'

const volts = (value: number, unit = 'V') => ({ shape: 'scalar' as const, value, unit })
const machine = { level: 'machine' as const }

function sentenceOf(work: () => unknown): string {
  try {
    work()
  } catch (error) {
    if (error instanceof SpokenError) return error.sentence
    throw error
  }
  return 'nothing was thrown'
}

function world() {
  const sources = testSources()
  const lab = newLab(sources)
  const made = bench(sources)
  const ceiling: RecordOf<'ceiling'> = { kind: 'ceiling', id: sources.newId(), name: 'core voltage', settings: ['core voltage'], unit: 'V', highest: 1.3, slot: 'processor', lowestTemperature: 0 }
  lab.apply({ ...BY, items: adding(...made.records, ceiling) })
  const tune = (value: number, more: Partial<RecordOf<'tune'>> = {}): RecordOf<'tune'> => ({
    kind: 'tune', id: sources.newId(), name: `core at ${value}`, settings: [{ key: 'Core voltage', scope: machine, asked: volts(value) }], ...more,
  })
  const override = { ceilingIds: [ceiling.id], reason: 'to find the edge', by: 'Ada Hollin', at: '2026-11-05T08:00:00Z' }
  return { sources, lab, ceiling, tune, override, ...made }
}

function sampleIn(lab: Lab, id: string): Sample {
  const record = lab.get(id)
  if (record?.kind !== 'sample') throw new Error(`no sample ${id}`)
  return record
}

describe('a tune', () => {
  it('past a ceiling is refused, also by its base or in other units, unless a person let it pass just that ceiling', () => {
    const { lab, tune, override, sources } = world()
    const far = tune(1.4)
    const SENTENCE = 'tune "core at 1.4": Core voltage 1.4 V is above the ceiling for core voltage, 1.3 V. Keep within the ceiling, or let the tune pass it with a reason; the reason then stands in every report.'
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding(far) }))).toBe(SENTENCE)
    expect(lab.get(far.id)).toBeUndefined()
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding({ ...far, override: { ...override, ceilingIds: [sources.newId()] } }) }))).toBe(SENTENCE)
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding(tune(0, { settings: [{ key: 'core voltage', scope: machine, asked: volts(1301, 'mV') }] })) }))).toContain('1301 mV is above')
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding(tune(0, { settings: [{ key: 'core voltage', scope: machine, asked: volts(1.2, 'W') }] })) }))).toContain("can't be checked")
    const allowed = { ...far, override }
    const child: RecordOf<'tune'> = { kind: 'tune', id: sources.newId(), name: 'quiet', baseId: far.id, settings: [] }
    lab.apply({ ...BY, items: adding(allowed, tune(1.3)) })
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding(child) }))).toMatch(/^tune "quiet": Core voltage 1.4 V is above/)
    lab.apply({ ...BY, items: adding({ ...child, settings: [{ key: 'core voltage', scope: machine, asked: volts(1.2) }] }) })
  })

  it('that pushes a tune based on it past a ceiling is refused with that tune named; one that stood past it before is not', () => {
    const { lab, tune, sources, ceiling } = world()
    const base = tune(1.2)
    const child: RecordOf<'tune'> = { kind: 'tune', id: sources.newId(), name: 'quiet', baseId: base.id, settings: [] }
    lab.apply({ ...BY, items: adding(base, child) })
    const higher = { ...base, settings: tune(1.35).settings, override: { ceilingIds: [ceiling.id], reason: 'edge', by: 'Ada Hollin', at: '2026-11-05T08:00:00Z' } }
    expect(sentenceOf(() => lab.apply({ ...BY, items: [{ before: base, after: higher }] }))).toMatch(/^tune "quiet": .*, by what this changes in the tune that it is based on\./)
    const lower = { ...ceiling, highest: 1.1 }
    lab.apply({ ...BY, items: [{ before: ceiling, after: lower }] })
    expect(sentenceOf(() => lab.apply({ ...BY, items: [{ before: base, after: { ...base, name: 'renamed' } }] }))).toContain('1.1 V')
    expect(sentenceOf(() => lab.apply({ ...BY, items: [{ before: base, after: { ...higher, settings: base.settings, name: 'renamed' } }] }))).toBe('nothing was thrown')
  })
})

function wet() {
  const made = world()
  const { lab, a1 } = made
  const soaked: Sample = { ...a1, status: 'wet' }
  lab.apply({ ...BY, items: [{ before: a1, after: soaked }] })
  const at = lab.changes({ count: 1 })[0]?.at ?? ''
  return { ...made, soaked, wetAt: Date.parse(at) }
}

function moment(milliseconds: number): string {
  return new Date(milliseconds).toISOString()
}

describe('a wet sample', () => {
  it('can not be started, unless the start was before it became wet; other samples can', () => {
    const { lab, start, seats, t65, wetAt } = wet()
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding(...start(seats[0], t65, [40])) }))).toBe('Quillon 14 1: it is wet, so nothing may be started with it. Dry it, look at it, and enter an inspection that found it dry.')
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding(...start(seats[0], t65, [40], { at: moment(wetAt) })) }))).toContain('it is wet')
    lab.apply({ ...BY, items: adding(...start(seats[0], t65, [40], { at: moment(wetAt - 1) })) })
    lab.apply({ ...BY, items: adding(...start(seats[1], t65, [40])) })
  })

  it('can not be put into an assembly that was started with since', () => {
    const { lab, start, seats, t65, soaked } = wet()
    lab.apply({ ...BY, items: adding(...start(seats[1], t65, [40])) })
    const swapped = { ...seats[1], slots: [{ slot: 'processor' as const, sampleId: soaked.id }] }
    expect(sentenceOf(() => lab.apply({ ...BY, items: [{ before: seats[1], after: swapped }] }))).toContain('it is wet, so nothing may be started with it')
  })

  it('leaves that status only by an inspection after it became wet that found it dry', () => {
    const { lab, soaked, wetAt, start, seats, t65 } = wet()
    const dry = (at: string, found: boolean): Sample => ({ ...soaked, status: 'bench', inspections: [{ at, by: 'Bo Pike', dry: found, found: 'looked at the socket' }] })
    const NOT = 'Quillon 14 1: it is wet, and nobody found it dry since.'
    for (const after of [{ ...soaked, status: 'bench' as const }, dry(moment(wetAt - 1), true), dry(moment(wetAt), true), dry(moment(wetAt + 1), false)]) {
      expect(sentenceOf(() => lab.apply({ ...BY, why: 'looks fine', items: [{ before: soaked, after }] }))).toContain(NOT)
    }
    lab.apply({ ...BY, items: [{ before: soaked, after: dry(moment(wetAt + 1), true) }, ...adding(...start(seats[0], t65, [40]))] })
    expect(sampleIn(lab, soaked.id).status).toBe('bench')
  })

  it('that became wet a second time needs a second look', () => {
    const { lab, soaked, wetAt } = wet()
    const dried: Sample = { ...soaked, status: 'bench', inspections: [{ at: moment(wetAt + 1), by: 'Bo Pike', dry: true, found: 'dry' }] }
    lab.apply({ ...BY, items: [{ before: soaked, after: dried }] })
    const again: Sample = { ...dried, status: 'wet' }
    lab.apply({ ...BY, items: [{ before: dried, after: again }] })
    expect(sentenceOf(() => lab.apply({ ...BY, items: [{ before: again, after: dried }] }))).toContain('nobody found it dry since')
  })
})

describe('quarantine', () => {
  it('is put on by a start asked for a tune that was let past a ceiling, in the same change, and undo takes both back', () => {
    const { lab, tune, override, start, seats, a1 } = world()
    const far = tune(1.4, { override })
    lab.apply({ ...BY, items: adding(far) })
    const seq = lab.apply({ ...BY, what: 'Started it', items: adding(...start(seats[0], far, [40])) })
    expect(sampleIn(lab, a1.id)).toMatchObject({ status: 'quarantined', quarantine: { reason: 'Core voltage 1.4 V is above the ceiling for core voltage, 1.3 V.', by: 'guardband' } })
    expect(lab.changes({ count: 1 })[0]).toMatchObject({ what: 'Started it (quarantined sample "1")', items: 4 })
    lab.undo(seq, BY)
    expect(sampleIn(lab, a1.id)).toEqual(a1)
    expect(lab.check()).toEqual([])
  })

  it('reaches a sample that is said afterwards to have sat in such a start, and one whose tune is said afterwards to have been past a ceiling', () => {
    const { lab, tune, override, start, seats, a1, a2, b1 } = world()
    const far = tune(1.4, { override })
    const near = tune(1.2)
    lab.apply({ ...BY, items: adding(far, near) })
    lab.apply({ ...BY, items: adding(...start(seats[0], far, [40]), ...start(seats[1], near, [41], {}, null)) })
    expect([a1, a2, b1].map(({ id }) => sampleIn(lab, id).status)).toEqual(['quarantined', 'bench', 'bench'])
    lab.apply({ ...BY, items: [{ before: seats[0], after: { ...seats[0], slots: [{ slot: 'processor', sampleId: b1.id }] } }] })
    expect(sampleIn(lab, b1.id).status).toBe('quarantined')
    lab.apply({ ...BY, items: [{ before: near, after: { ...near, settings: far.settings, override } }] })
    expect(sampleIn(lab, a2.id).status).toBe('quarantined')
    expect(lab.check()).toEqual([])
  })

  it('stays when one of two starts that strained the sample alike is taken back, and goes with the last of them', () => {
    const { lab, tune, override, start, seats, a1 } = world()
    const far = tune(1.4, { override })
    lab.apply({ ...BY, items: adding(far) })
    const first = lab.apply({ ...BY, items: adding(...start(seats[0], far, [40])) })
    const second = lab.apply({ ...BY, items: adding(...start(seats[0], far, [41])) })
    expect(sentenceOf(() => lab.undo(first, BY))).toBe(
      'Quillon 14 1: it would leave quarantine, though another start did the same to it (Core voltage 1.4 V is above the ceiling for core voltage, 1.3 V). Take that one back first, or let the sample out for a reason.',
    )
    expect(sampleIn(lab, a1.id).status).toBe('quarantined')
    lab.undo(second, BY)
    expect(sampleIn(lab, a1.id).status).toBe('quarantined')
    lab.undo(first, BY)
    expect(sampleIn(lab, a1.id)).toEqual(a1)
  })

  it('goes by what was in force where that was recorded, whatever was asked, and by every setting in force', () => {
    const { lab, tune, override, start, seats, a1, b1, t65 } = world()
    const far = tune(1.4, { override })
    lab.apply({ ...BY, items: adding(far) })
    const [first, held] = start(seats[0], far, [])
    const reading = { key: 'core voltage', scope: machine, known: 'measured' as const }
    lab.apply({ ...BY, items: adding(first, { ...held, settings: [{ ...reading, value: volts(1.25) }] }) })
    expect(sampleIn(lab, a1.id).status).toBe('bench')
    const [second, high] = start(seats[2], t65, [])
    lab.apply({ ...BY, items: adding(second, { ...high, settings: [{ ...reading, value: volts(1320, 'mV') }] }) })
    expect(sampleIn(lab, b1.id).quarantine?.reason).toBe('core voltage 1320 mV is above the ceiling for core voltage, 1.3 V.')
  })

  it('is not put on by a reading that can not be held against the ceiling', () => {
    const { lab, start, seats, a1, t65 } = world()
    const [first, held] = start(seats[0], t65, [])
    lab.apply({ ...BY, items: adding(first, { ...held, settings: [{ key: 'core voltage', scope: machine, value: volts(1.4, 'W'), known: 'measured' }] }) })
    expect(sampleIn(lab, a1.id).status).toBe('bench')
  })

  it('is not put on by the tune asked for when the start fell back', () => {
    const { lab, tune, override, start, seats, a1 } = world()
    const far = tune(1.4, { override })
    lab.apply({ ...BY, items: adding(far) })
    lab.apply({ ...BY, items: adding(...start(seats[0], far, [40], { result: 'fallback start' }, null)) })
    expect(sampleIn(lab, a1.id).status).toBe('bench')
  })

  it('is put on by running it colder than its ceiling was given for, by the coolant before the room', () => {
    const { lab, start, seats, t65, a1, a2, b1 } = world()
    lab.apply({ ...BY, items: adding(...start(seats[0], t65, [40], { conditions: { ambient: 20, coolant: -40 } })) })
    lab.apply({ ...BY, items: adding(...start(seats[1], t65, [40], { conditions: { ambient: -5, coolant: 15 } })) })
    lab.apply({ ...BY, items: adding(...start(seats[2], t65, [40], { conditions: { ambient: 0 } })) })
    expect(sampleIn(lab, a1.id).quarantine?.reason).toBe('It was run cold: the coolant had −40 °C, and the ceiling for core voltage was given for 0 °C and above.')
    expect([sampleIn(lab, a2.id).status, sampleIn(lab, b1.id).status]).toEqual(['bench', 'bench'])
  })

  it('never refuses what a rig tells: the sample is quarantined, and a wet one stays locked as wet', () => {
    const { lab, tune, start, seats, a1, a2 } = world()
    const soaked: Sample = { ...a2, status: 'wet' }
    lab.apply({ ...BY, items: [{ before: a2, after: soaked }] })
    const far = tune(1.4)
    lab.apply({ ...BY, told: 'as it happened', items: adding(far, ...start(seats[0], far, [40]), ...start(seats[1], far, [41])) })
    expect(sampleIn(lab, a1.id).status).toBe('quarantined')
    expect(sampleIn(lab, a2.id)).toMatchObject({ status: 'wet', quarantine: { by: 'guardband' } })
  })

  it('stands in the change that brought the sample too, and adds nothing to what is restored', () => {
    const first = world()
    const far = first.tune(1.4)
    const sample: Sample = { ...first.a1, id: first.sources.newId(), label: '9' }
    const seat = first.seat(sample)
    const items = adding(sample, far, seat, ...first.start(seat, far, [40]))
    const restored = first.lab.apply({ ...BY, told: 'restored', items })
    expect(sampleIn(first.lab, sample.id)).toEqual(sample)
    first.lab.undo(restored, BY)
    const request = '01a0a0a0-0000-7000-8000-000000000001'
    const seq = first.lab.apply({ ...BY, told: 'as it happened', items, request })
    expect(sampleIn(first.lab, sample.id).status).toBe('quarantined')
    expect(first.lab.changeItems(seq)).toHaveLength(items.length)
    expect(first.lab.apply({ ...BY, told: 'as it happened', items, request })).toBe(seq)
  })

  it('and wet that a person put a sample into are undone only for a reason', () => {
    const { lab, a1, a2 } = world()
    const aside: Sample = { ...a1, status: 'quarantined', quarantine: { reason: 'bent pin', by: 'Ada Hollin', at: '2026-11-05T08:00:00Z' } }
    const quarantined = lab.apply({ ...BY, items: [{ before: a1, after: aside }] })
    const soaked = lab.apply({ ...BY, items: [{ before: a2, after: { ...a2, status: 'wet' } }] })
    for (const seq of [quarantined, soaked]) {
      expect(sentenceOf(() => lab.undo(seq, { who: 'Ada Hollin', why: ' ' }))).toContain('may leave that only for a reason')
      lab.undo(seq, { who: 'Ada Hollin', why: 'the wrong sample' })
    }
    expect([a1, a2].map(({ id }) => sampleIn(lab, id))).toEqual([a1, a2])
  })

  it('is left only for a reason, and for sale only for a reason even later', () => {
    const { lab, start, seats, t65, a1 } = world()
    lab.apply({ ...BY, items: adding(...start(seats[0], t65, [40], { conditions: { coolant: -40 } })) })
    const held = sampleIn(lab, a1.id)
    const freed: Sample = { ...held, status: 'bench' }
    const silent = { who: 'Ada Hollin', what: 'Test' }
    expect(sentenceOf(() => lab.apply({ ...silent, items: [{ before: held, after: freed }] }))).toMatch(/^Quillon 14 1: it is quarantined \(It was run cold: .*\), and may leave only for a reason\. Say why in the reason of this change\.$/)
    const { quarantine: _wiped, ...wiped } = held
    expect(sentenceOf(() => lab.apply({ ...silent, items: [{ before: held, after: wiped }] }))).toContain("can't be taken away without a reason")
    lab.apply({ ...silent, why: 'only for a look', items: [{ before: held, after: freed }] })
    expect(sentenceOf(() => lab.apply({ ...silent, items: [{ before: freed, after: { ...freed, status: 'for sale' } }] }))).toContain('so it may go for sale only for a reason')
    lab.apply({ ...silent, why: 'tested for a week since', items: [{ before: freed, after: { ...freed, status: 'for sale' } }] })
    expect(sampleIn(lab, a1.id).status).toBe('for sale')
  })

  it('is not put on again by a note or an end of time on an old start, but by a new start it is', () => {
    const { lab, start, seats, t65, a1 } = world()
    const cold = start(seats[0], t65, [40], { conditions: { coolant: -40 } })
    lab.apply({ ...BY, items: adding(...cold) })
    const held = sampleIn(lab, a1.id)
    const freed: Sample = { ...held, status: 'bench' }
    lab.apply({ ...BY, why: 'a look', items: [{ before: held, after: freed }] })
    lab.apply({ ...BY, items: [{ before: cold[0], after: { ...cold[0], note: 'typed later' } }, { before: cold[1], after: { ...cold[1], to: '2026-11-05T10:00:00Z' } }] })
    expect(canonicalJson(sampleIn(lab, a1.id))).toBe(canonicalJson(freed))
    lab.apply({ ...BY, items: adding(...start(seats[0], t65, [40], { conditions: { coolant: -40 } })) })
    expect(sampleIn(lab, a1.id)).toMatchObject({ status: 'quarantined', quarantine: { reason: held.quarantine?.reason } })
  })

  it('spares what no setting of it reaches: a ceiling of the processor leaves the memory alone', () => {
    const { lab, sources, tune, override, start, seat, a1, b } = world()
    const kit: LabRecord & { kind: 'part' } = { ...b, id: sources.newId(), name: 'Marram 5600', slot: 'memory' }
    const module: Sample = { ...a1, id: sources.newId(), partId: kit.id, label: 'M1' }
    const machineSeat = seat(a1, { slot: 'memory', sampleId: module.id })
    const far = tune(1.4, { override })
    lab.apply({ ...BY, items: adding(kit, module, machineSeat, far, ...start(machineSeat, far, [40])) })
    expect([sampleIn(lab, a1.id).status, sampleIn(lab, module.id).status]).toEqual(['quarantined', 'bench'])
  })
})

describe('a workspace exported and imported', () => {
  it('comes as it stood, though by hand none of it could be entered so: the same digest, nothing refused, nothing added', async () => {
    const { lab, tune, ceiling, start, seats, a2 } = world()
    const soaked: Sample = { ...a2, status: 'wet' }
    const far = tune(1.29)
    lab.apply({ ...BY, items: [{ before: a2, after: soaked }, ...adding(far, ...start(seats[0], far, [40], { conditions: { coolant: 5 } }))] })
    lab.apply({ ...BY, told: 'as it happened', items: adding(...start(seats[1], far, [41])) })
    // Lowered and narrowed afterwards: what stands is past it now.
    lab.apply({ ...BY, items: [{ before: ceiling, after: { ...ceiling, highest: 1, lowestTemperature: 10 } }] })
    const file = path.join(temporaryFolder(), 'export.json')
    await keepStream(await lab.moving.export('json'), file)
    const into = path.join(temporaryFolder(), 'imported')
    await importFile({ file, shown: 'export.json', into, who: 'Ada Hollin' }, testSources({}, 5))
    const again = reopen(into)
    expect(again.digest()).toEqual(lab.digest())
    expect(sampleIn(again, soaked.id)).toEqual(soaked)
  })
})

describe('the record of the workspace itself', () => {
  it('keeps the mark of the simulated bench, also against an undo, and stays the only one', () => {
    const { lab, sources } = world()
    const [own] = lab.list('lab')
    expect(sentenceOf(() => lab.apply({ ...BY, items: [{ before: own, after: { ...own, simulated: false } }] }))).toBe(
      'lab "Hollin & Pike": it is marked as simulated, and keeps that mark. Make another workspace for what is measured on real machines.',
    )
    expect(sentenceOf(() => lab.apply({ ...BY, items: adding({ ...own, id: sources.newId() }) }))).toContain('a workspace has one record of itself')
    const renamed = { ...own, name: 'north bench' }
    lab.apply({ ...BY, items: [{ before: own, after: renamed }] })
    expect(lab.list('lab')).toEqual([renamed])
    expect(lab.check()).toEqual([])
  })
})
