// What the lab has written into its bench book beside the week's runs: drafts of a tune, kinds of settings, ceilings, bins, a kit that came back, and the starts to make next.
import type { LabRecord, RecordOf, Setting, Tune } from '@guardband/model'
import type { BaseRecords } from './base-records.ts'
import { readBoard } from './board-dump.ts'
import { boughtAs } from './bought.ts'
import { CEILINGS, KINDS } from './house-rules.ts'
import { STANDING_CONDITIONS } from './rig-log.ts'

export interface BenchBookOptions {
  readonly seed: number
  readonly base: BaseRecords
  /** Makes ids as of this moment (milliseconds since 1970), of a stream that no other record's id comes from. */
  readonly idAt: (moment: number) => string
}

/** Adds to the week without touching it: no run, question or standing record has another id or another value for it. */
export function benchBook({ seed, base, idAt }: BenchBookOptions): readonly LabRecord[] {
  const newId = (): string => idAt(WRITTEN_AT)
  const kinds = KINDS.map((kind): RecordOf<'setting kind'> => ({ kind: 'setting kind', id: newId(), ...kind }))
  const first: Tune = { kind: 'tune', id: newId(), name: 'Crew profile, draft 1', baseId: base.id('W95'), settings: FIRST_DRAFT, note: 'For crews at 35 degC: fans may turn faster, the cores keep their pace.' }
  const second: Tune = { kind: 'tune', id: newId(), name: 'Crew profile, draft 2', baseId: first.id, settings: SECOND_DRAFT, note: 'As draft 1, with more power and cores 20 mV down.' }
  const held = [...base.records.filter((record) => record.kind === 'tune'), first, second]
  return [
    ...kinds,
    ...CEILINGS.map((ceiling): LabRecord => ({ kind: 'ceiling', id: newId(), ...ceiling, source: 'house' })),
    first,
    second,
    ...binsOf(base, newId),
    { kind: 'grade', id: newId(), name: 'Always on', requires: [{ what: 'cold starts', count: 10 }, { what: 'clean hours', count: 24 }, { what: 'clean passes over memory', count: 8 }] },
    {
      kind: 'sample', id: newId(), partId: base.id('M62'), label: 'M62-05', batch: 'week 26-29', ...boughtAs(seed, { key: 'M62-05', batch: 'week 26-29', origin: 'returned', price: 0 }),
      origin: 'returned', picked: 'chosen', status: 'quarantined',
      quarantine: { reason: 'Came back from a crew: it fell back on two of ten cold starts there, and has not been tested here.', by: 'north bench desk', at: new Date(WRITTEN_AT).toISOString() },
    },
    { kind: 'layout', id: newId(), name: 'Cairn M2 0.4.17', ...readBoard(seed, { kinds, tunes: held }) },
    sheetOf({ first, second }, base, newId),
  ]
}

/** The Friday afternoon after the week's last start. */
const WRITTEN_AT = Date.UTC(2026, 10, 6, 19, 30)

const machine = { level: 'machine' } as const
const processor = { level: 'package' } as const

const FIRST_DRAFT: Setting[] = [
  { key: 'ratio by active cores', scope: processor, asked: { shape: 'table', rows: [[2, 55], [4, 53], [8, 51], [14, 48]], unit: '' } },
  { key: 'fan policy', scope: machine, asked: { shape: 'mode', mode: 'curve' } },
  { key: 'fan curve', scope: machine, asked: { shape: 'curve', points: [[45, 700], [65, 900], [80, 1200]], unit: 'rpm', atUnit: 'degC' } },
  { key: 'memory data rate', scope: machine, asked: { shape: 'unchanged' } },
  { key: 'memory voltage', scope: machine, asked: { shape: 'scalar', value: 1.25, unit: 'V' } },
  { key: 'core voltage', scope: processor, asked: { shape: 'auto' } },
]

const SECOND_DRAFT: Setting[] = [
  { key: 'package power limit', scope: processor, asked: { shape: 'scalar', value: 110, unit: 'W' } },
  { key: 'core voltage offset', scope: processor, asked: { shape: 'scalar', value: -20, unit: 'mV' } },
  { key: 'ratio by active cores', scope: processor, asked: { shape: 'table', rows: [[2, 55], [4, 54], [8, 52], [14, 49]], unit: '' } },
  { key: 'fan curve', scope: machine, asked: { shape: 'unchanged' } },
  { key: 'memory voltage', scope: machine, asked: { shape: 'scalar', value: 1.28, unit: 'V' } },
  { key: 'memory controller voltage', scope: processor, asked: { shape: 'scalar', value: 1.1, unit: 'V' } },
]

const PRICED_AT = '2026-10-26T08:00:00Z'

/** The dearer bin of each part asks for what some of its samples have shown, some have failed and some were never asked. */
function binsOf(base: BaseRecords, newId: () => string): readonly RecordOf<'bin'>[] {
  const bin = (name: string, part: string, price: number, criteria: RecordOf<'bin'>['criteria']): RecordOf<'bin'> => ({
    kind: 'bin', id: newId(), name, partId: base.id(part), prices: [{ amount: price, at: PRICED_AT }], criteria,
  })
  return [
    bin('Proven at 95 W', 'Q14', 344, [{ what: 'clean runs', tuneId: base.id('W95'), count: 60 }]),
    bin('Crew pick', 'Q14R', 429, [
      { what: 'measure', workloadId: base.id('tile'), measure: 'score', tuneId: base.id('W95'), bound: 'at least', value: 2190 },
      { what: 'clean runs', tuneId: base.id('W95'), count: 60 },
    ]),
    bin('As it comes', 'Q14R', 403, []),
    bin('Full rate', 'M68', 192, [{ what: 'clean runs', tuneId: base.id('M6800'), count: 60 }]),
    bin('Sold as 6200', 'M68', 141, [{ what: 'clean runs', tuneId: base.id('M6200'), count: 30 }]),
  ]
}

/** The old tune first and last, so that a drift of the room would show. */
function sheetOf({ first, second }: { readonly first: Tune; readonly second: Tune }, base: BaseRecords, newId: () => string): RecordOf<'sheet'> {
  const slots = [
    { slot: 'processor' as const, sampleId: base.id('Q14-01') },
    { slot: 'memory' as const, position: 'both channels', sampleId: base.id('M62-03') },
  ]
  return {
    kind: 'sheet', id: newId(), name: 'Crew profile, first starts', rigId: base.id('north bench'), at: new Date(WRITTEN_AT).toISOString(), suiteId: base.suiteId,
    workloadIds: ['tile', 'photo', 'audio'].map(base.id), repeats: 2,
    starts: [base.id('W95'), first.id, second.id, base.id('W95')].map((tuneId) => ({ startId: newId(), tuneId, how: 'cold', slots })),
    conditions: STANDING_CONDITIONS,
  }
}
