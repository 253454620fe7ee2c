// The demo's standing records: rigs, parts, samples, tunes, workloads, suite, grade, costs.
import type { LabRecord, RecordOf, Setting } from '@guardband/model'
import { PARTS, TUNES, WORKLOADS } from './catalogue.ts'
import type { DemoTune } from './catalogue.ts'
import { boughtAs } from './bought.ts'
import type { RigKey } from './campaigns.ts'

export interface BaseRecords {
  readonly records: readonly LabRecord[]
  /** Record ids by the keys of the catalogue. */
  readonly id: (key: string) => string
  readonly suiteId: string
  /** Board, cooler and supply of each rig. */
  readonly fixtures: Readonly<Record<RigKey, readonly { readonly slot: 'board' | 'cooler' | 'supply'; readonly sampleId: string }[]>>
}

export const RIGS: readonly RigKey[] = ['north bench', 'south bench']

export function baseRecords(seed: number, newId: () => string): BaseRecords {
  const ids = new Map<string, string>()
  const named = (key: string): string => {
    const made = newId()
    ids.set(key, made)
    return made
  }
  const id = (key: string): string => {
    const found = ids.get(key)
    if (found === undefined) throw new RangeError(`key must name a record of the demo; got ${key}`)
    return found
  }

  const records: LabRecord[] = RIGS.map((name) => ({ kind: 'rig', id: named(name), name }))
  for (const part of PARTS) {
    const partId = named(part.key)
    const prices = [
      { amount: Math.round(part.price * EARLIER_PRICE), at: '2026-09-14T08:00:00Z' },
      { amount: part.price, at: '2026-10-26T08:00:00Z' },
    ]
    records.push({ kind: 'part', id: partId, name: part.name, slot: part.slot, prices })
    for (const { key, batch, origin, picked } of part.samples) {
      records.push({ kind: 'sample', id: named(key), partId, label: key, batch, ...boughtAs(seed, { key, batch, origin, price: prices[0].amount }), origin, picked, status: 'bench' })
    }
  }
  const baseId = named('base tune')
  records.push({ kind: 'tune', id: baseId, name: 'House base', settings: BASE_SETTINGS, note: 'What every machine leaves the house with, before power and memory are chosen.' })
  for (const tune of TUNES) records.push({ kind: 'tune', id: named(tune.key), name: tune.name, baseId, settings: changedSettings(tune) })
  for (const { key, name, group, threads, measure } of WORKLOADS) {
    records.push({ kind: 'workload', id: named(key), name, group, version: '1', threads, measures: [measure] })
  }
  const suiteId = named('suite')
  records.push({ kind: 'suite', id: suiteId, name: 'Field crew suite', items: WORKLOADS.map(({ key, measure, weight }) => ({ workloadId: id(key), measure: measure.name, weight })) })
  records.push({ kind: 'grade', id: named('grade'), name: 'Finishes the suite', requires: [{ what: 'cold starts', count: 5 }, { what: 'clean suite', count: 3 }] })
  records.push(...COSTS.map((cost) => ({ ...cost, kind: 'cost' as const, id: named(cost.of) })))

  const fixturesOf = (number: string): BaseRecords['fixtures'][RigKey] => [
    { slot: 'board', sampleId: id(`C2-${number}`) },
    { slot: 'cooler', sampleId: id(`B120-${number}`) },
    { slot: 'supply', sampleId: id(`S450-${number}`) },
  ]
  return { records, id, suiteId, fixtures: { 'north bench': fixturesOf('01'), 'south bench': fixturesOf('02') } }
}

const EARLIER_PRICE = 1.05

const scalar = (value: number, unit: string) => ({ shape: 'scalar', value, unit }) as const

const BASE_SETTINGS: Setting[] = [
  { key: 'fan policy', scope: { level: 'machine' }, asked: { shape: 'mode', mode: 'fixed 900 rpm' } },
  { key: 'package power limit', scope: { level: 'package' }, asked: scalar(95, 'W') },
  { key: 'memory data rate', scope: { level: 'machine' }, asked: scalar(6200, 'MT/s') },
  { key: 'core voltage offset', scope: { level: 'package' }, asked: scalar(0, 'mV') },
  ...['core voltage', 'memory controller voltage', 'ratio by active cores'].map((key): Setting => ({ key, scope: { level: 'package' }, asked: { shape: 'auto' } })),
  { key: 'memory voltage', scope: { level: 'machine' }, asked: { shape: 'auto' } },
]

function changedSettings({ watts, dataRate, offset }: DemoTune): Setting[] {
  return [
    { key: 'package power limit', scope: { level: 'package' }, asked: scalar(watts, 'W') },
    { key: 'memory data rate', scope: { level: 'machine' }, asked: scalar(dataRate, 'MT/s') },
    { key: 'core voltage offset', scope: { level: 'package' }, asked: offset === 0 ? { shape: 'unchanged' } : scalar(offset, 'mV') },
  ]
}

/** Minutes as the lab has written them down. */
const COSTS: readonly Omit<RecordOf<'cost'>, 'kind' | 'id'>[] = [
  { of: 'start', handMinutes: 0, machineMinutes: 4 },
  { of: 'tune change', handMinutes: 1, machineMinutes: 2 },
  { of: 'sample change', handMinutes: 14, machineMinutes: 5 },
  { of: 'remount', handMinutes: 9, machineMinutes: 4 },
]
