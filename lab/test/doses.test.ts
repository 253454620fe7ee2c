// Doses by arithmetic done by hand: volts, hours and degrees of what was in force and of what a person entered.
import { describe, expect, it } from 'vitest'
import type { LabRecord, RecordOf } from '@guardband/model'
import { adding, bench, BY, newLab, testSources } from './support.ts'

const machine = { level: 'machine' as const }
const HOUR = 3600

function reading(value: number, unit = 'V'): RecordOf<'in force'>['settings'][number] {
  return { key: 'core voltage', scope: machine, value: { shape: 'scalar', value, unit }, known: 'measured' }
}

function world() {
  const sources = testSources()
  const lab = newLab(sources)
  const made = bench(sources)
  const workload = { ...made.workload, measures: [...made.workload.measures, { name: 'core', unit: 'degC', direction: 'lower is better' as const }, { name: 'hot spot', unit: 'degC', direction: 'lower is better' as const }] }
  lab.apply({ ...BY, items: adding(...made.records.map((record) => (record.id === workload.id ? workload : record))) })
  const stretch = (settings: RecordOf<'in force'>['settings'], runs: readonly { readonly hours?: number; readonly degrees?: number }[], more: Partial<RecordOf<'start'>> = {}): readonly LabRecord[] => {
    const [start, held, ...runRecords] = made.start(made.seats[0], made.t65, runs.map(() => 40), more)
    return [
      start,
      { ...held, settings },
      ...runRecords.map((run, place) => {
        const { hours, degrees } = runs[place]
        return { ...run, ...(hours === undefined ? {} : { exposure: { seconds: hours * HOUR } }), measures: degrees === undefined ? run.measures : [...run.measures, { name: 'core', value: degrees - 5 }, { name: 'hot spot', value: degrees }] }
      }),
    ]
  }
  return { ...made, sources, lab, stretch }
}

describe('doses', () => {
  it('are volts times hours, and times the hottest reading of each run where one was taken', () => {
    const { lab, stretch, a1, a2 } = world()
    lab.apply({ ...BY, items: adding(...stretch([reading(1250, 'mV')], [{ hours: 2, degrees: 80 }, { hours: 1, degrees: 50 }, { hours: 3 }, {}])) })
    const { sums, rows, runsWithoutTime } = lab.doses(a1.id)
    // 6 h at 1.25 V; 1.25 x (2 x 80 + 1 x 50); 3 h without a reading; (2 x 80 + 1 x 50) / 3 = 70.
    expect(sums).toEqual([{ setting: 'core voltage', hours: 6, voltHours: 7.5, voltDegreeHours: 262.5, hoursWithoutTemperature: 3, highestVolts: 1.25, allowances: [] }])
    expect(rows).toMatchObject([{ from: 'runs', volts: 1.25, hours: 6, temperature: 70, hoursWithoutTemperature: 3, known: 'measured', of: 'one value' }])
    expect(runsWithoutTime).toBe(1)
    expect(lab.doses(a2.id)).toEqual({ sums: [], rows: [], runsWithoutTime: 0 })
  })

  it('take in what a person entered, several stretches, and say so where no temperature is known', () => {
    const { lab, stretch, a1, sources } = world()
    const entered: RecordOf<'dose'> = { kind: 'dose', id: sources.newId(), sampleId: a1.id, at: '2026-11-01T08:00:00Z', setting: 'Core Voltage', volts: 1.4, hours: 0.5, known: 'seen by a person' }
    lab.apply({ ...BY, items: adding(entered, ...stretch([reading(1.2)], [{ hours: 1 }], { at: '2026-11-02T08:00:00Z' })) })
    const { sums, rows } = lab.doses(a1.id)
    expect(sums).toEqual([{ setting: 'core voltage', hours: 1.5, voltHours: 1.4 * 0.5 + 1.2, voltDegreeHours: null, hoursWithoutTemperature: 1.5, highestVolts: 1.4, allowances: [] }])
    expect(rows.map(({ from, volts, temperature }) => [from, volts, temperature])).toEqual([['runs', 1.2, null], ['entered', 1.4, null]])
  })

  it('take the tune for what nobody read, the highest of a curve, and neither offsets nor other quantities nor modes', () => {
    const { lab, stretch, a1, t65 } = world()
    const asked = { ...t65, settings: [
      { key: 'core voltage', scope: machine, asked: { shape: 'scalar' as const, value: 1.1, unit: 'V' } },
      { key: 'cache voltage', scope: machine, asked: { shape: 'curve' as const, points: [[900, 0.8], [2100, 1.05]] as [number, number][], unit: 'V' } },
      { key: 'core voltage offset', scope: machine, asked: { shape: 'scalar' as const, value: 50, unit: 'mV' } },
      { key: 'power limit', scope: machine, asked: { shape: 'scalar' as const, value: 65, unit: 'W' } },
      { key: 'memory voltage', scope: { level: 'channel' as const, index: 'A' }, asked: { shape: 'scalar' as const, value: 1.35, unit: 'V' } },
      { key: 'board voltage', scope: machine, asked: { shape: 'auto' as const } },
    ] }
    lab.apply({ ...BY, items: [{ before: t65, after: asked }, ...adding(...stretch([reading(1.15)], [{ hours: 1 }]))] })
    expect(lab.doses(a1.id).rows.map(({ setting, volts, of, known }) => [setting, volts, of, known])).toEqual([
      ['cache voltage', 1.05, 'highest of several', 'asked'],
      ['core voltage', 1.15, 'one value', 'measured'],
    ])
  })

  it('are held against the hours that a ceiling allows above a voltage', () => {
    const { lab, stretch, a1, sources } = world()
    const ceiling: RecordOf<'ceiling'> = { kind: 'ceiling', id: sources.newId(), name: 'core voltage, long', settings: ['CORE voltage'], unit: 'mV', lowest: 1200, hours: 10, slot: 'processor' }
    lab.apply({ ...BY, items: adding(ceiling, ...stretch([reading(1.25)], [{ hours: 4 }]), ...stretch([reading(1.2)], [{ hours: 5 }])) })
    expect(lab.doses(a1.id).sums[0]?.allowances).toEqual([{ domain: 'core voltage, long', above: 1.2, hours: 4, allowed: 10 }])
  })
})
