// What a sample was given: volts over hours, from doses that a person entered and from what was in force while its runs went on.
//
// Hours are the exposure of the runs under each stretch of what was in force. The temperature of a run is the highest of its measures in degC; a run without
// one adds hours whose temperature is not known. Volts x degrees x hours are summed run by run, so a hot run is not averaged away by a cool one.
import {
  convert, findUnit, scopeText, settingKey, SpokenError, type Ceiling, type DoseRow, type Doses, type DoseSum, type InForce, type Run, type Sample, type SettingValue, type Slot, type Start, type Workload,
} from '@guardband/model'
import { describeRecord } from './describe.ts'
import type { RecordStore } from './record-store.ts'
import { drivenSlots, heldSettings, reaches } from './sample-voltage.ts'

export function dosesOf(store: RecordStore, startsWith: (assemblyId: string) => readonly string[], sampleId: string): Doses {
  const sample = store.get(sampleId)
  if (sample?.kind !== 'sample') throw new SpokenError({ code: 'no-sample', message: `there is no sample ${sampleId}.`, mend: 'Choose one from the list of parts.' })
  const ceilings = store.list('ceiling')
  const workloads = new Map(store.list('workload').map((workload) => [workload.id, workload]))
  const seats = store.list('assembly').flatMap((assembly) => drivenSlots(assembly).flatMap((seat) => (seat.sampleId === sampleId ? [{ assemblyId: assembly.id, slot: seat.slot }] : [])))
  const tallies = [...new Map(seats.map((seat) => [seat.assemblyId, seat])).values()].flatMap(({ assemblyId, slot }) =>
    startsWith(assemblyId).map((startId) => startTally(store, startId, { slot, ceilings, workloads })),
  )
  const rows = [...enteredRows(store, sampleId), ...tallies.flatMap(({ rows: own }) => own)].toSorted((a, b) => momentOf(b.at) - momentOf(a.at) || compare(a.setting, b.setting))
  return {
    sums: sumUp(rows, sample, ceilings, store),
    rows,
    runsWithoutTime: tallies.reduce((sum, tally) => sum + tally.runsWithoutTime, 0),
  }
}

function enteredRows(store: RecordStore, sampleId: string): readonly DoseRow[] {
  return store.list('dose').flatMap((dose) => {
    if (dose.sampleId !== sampleId) return []
    const start = dose.startId === undefined ? undefined : store.get(dose.startId)
    const temperature = dose.temperature ?? null
    return [{
      from: 'entered' as const, id: dose.id, name: start === undefined ? 'entered by hand' : describeRecord(start, store.get), at: dose.at, setting: dose.setting, volts: dose.volts, of: 'one value' as const, known: dose.known,
      hours: dose.hours, temperature, hoursWithoutTemperature: temperature === null ? dose.hours : 0, voltDegreeHours: temperature === null ? null : dose.volts * temperature * dose.hours,
    }]
  })
}

interface Reading {
  /** In which the sample sat. */
  readonly slot: Slot
  readonly ceilings: readonly Ceiling[]
  readonly workloads: ReadonlyMap<string, Workload>
}

interface Tally {
  readonly rows: readonly DoseRow[]
  readonly runsWithoutTime: number
}

function startTally(store: RecordStore, startId: string, reading: Reading): Tally {
  const start = store.get(startId)
  if (start?.kind !== 'start') return { rows: [], runsWithoutTime: 0 }
  const records = store.ofStart(startId)
  const runs = Map.groupBy(records.filter((record) => record.kind === 'run'), (run) => run.inForceId)
  const tallies = records.flatMap((record) => (record.kind === 'in force' ? [stretchTally(store, start, record, runs.get(record.id) ?? [], reading)] : []))
  return { rows: tallies.flatMap(({ rows }) => rows), runsWithoutTime: tallies.reduce((sum, tally) => sum + tally.runsWithoutTime, 0) }
}

function stretchTally(store: RecordStore, start: Start, inForce: InForce, runs: readonly Run[], { slot, ceilings, workloads }: Reading): Tally {
  const voltages = heldSettings(start, inForce, store.get).flatMap((setting) => {
    const volts = voltsOf(setting.key, setting.value)
    return volts === null || !reaches(setting, slot, ceilings) ? [] : [{ ...setting, ...volts }]
  })
  if (voltages.length === 0) return { rows: [], runsWithoutTime: 0 }
  const timed = runs.flatMap((run) => {
    const hours = (run.exposure?.seconds ?? 0) / SECONDS_AN_HOUR
    return hours > 0 ? [{ hours, temperature: temperatureOf(run, workloads.get(run.workloadId)) }] : []
  })
  const hours = timed.reduce((sum, run) => sum + run.hours, 0)
  const measured = timed.flatMap((run) => (run.temperature === null ? [] : [{ hours: run.hours, temperature: run.temperature }]))
  const measuredHours = measured.reduce((sum, run) => sum + run.hours, 0)
  const degreeHours = measured.reduce((sum, run) => sum + run.temperature * run.hours, 0)
  const rows = hours === 0 ? [] : voltages.map(({ key, scope, known, volts, of }) => ({
    from: 'runs' as const, id: start.id, name: describeRecord(start, store.get), at: inForce.from ?? start.at ?? null, setting: `${key}${scopeText(scope)}`, volts, of, known, hours,
    temperature: measuredHours === 0 ? null : degreeHours / measuredHours,
    hoursWithoutTemperature: measured.length === timed.length ? 0 : hours - measuredHours,
    voltDegreeHours: measuredHours === 0 ? null : volts * degreeHours,
  }))
  return { rows, runsWithoutTime: runs.length - timed.length }
}

/** Null for what is no voltage that something is given: another quantity, a mode, or an offset, which says nothing of the voltage itself. */
function voltsOf(key: string, value: SettingValue): { readonly volts: number; readonly of: DoseRow['of'] } | null {
  if (value.shape === 'mode' || findUnit(value.unit)?.quantity !== 'voltage' || /\boffset\b/i.test(key)) return null
  const given = value.shape === 'scalar' ? [value.value] : (value.shape === 'table' ? value.rows : value.points).map(([, set]) => set)
  const volts = convert(Math.max(...given), value.unit, 'V')
  return volts === undefined || volts <= 0 ? null : { volts, of: given.length === 1 ? 'one value' : 'highest of several' }
}

function temperatureOf(run: Run, workload: Workload | undefined): number | null {
  const degrees = run.measures.flatMap(({ name, value }) => (workload?.measures.some((measure) => measure.name === name && measure.unit === 'degC') === true ? [value] : []))
  return degrees.length === 0 ? null : Math.max(...degrees)
}

function sumUp(rows: readonly DoseRow[], sample: Sample, ceilings: readonly Ceiling[], store: RecordStore): DoseSum[] {
  const part = store.get(sample.partId)
  const holds = ceilings.filter((ceiling) => (ceiling.partId === undefined || ceiling.partId === sample.partId) && (ceiling.slot === undefined || part?.kind !== 'part' || ceiling.slot === part.slot))
  return [...Map.groupBy(rows, ({ setting }) => settingKey(setting)).values()].map((own) => {
    const { setting } = own[0]
    const known = own.flatMap(({ voltDegreeHours }) => voltDegreeHours ?? [])
    return {
      setting,
      hours: total(own, ({ hours }) => hours),
      voltHours: total(own, ({ volts, hours }) => volts * hours),
      voltDegreeHours: known.length === 0 ? null : known.reduce((sum, value) => sum + value, 0),
      hoursWithoutTemperature: total(own, (row) => row.hoursWithoutTemperature),
      highestVolts: Math.max(...own.map(({ volts }) => volts)),
      allowances: holds.flatMap((ceiling) => allowance(ceiling, setting, own)),
    }
  }).toSorted((a, b) => compare(a.setting, b.setting))
}

/** Hours above the voltage from which a ceiling counts them. */
function allowance({ name, hours, lowest, unit, settings }: Ceiling, setting: string, rows: readonly DoseRow[]): DoseSum['allowances'] {
  const above = lowest === undefined ? undefined : convert(lowest, unit, 'V')
  const key = settingKey(setting)
  if (hours === undefined || above === undefined || !settings.some((own) => key === settingKey(own) || key.startsWith(`${settingKey(own)} of `))) return []
  return [{ domain: name, above, hours: total(rows.filter(({ volts }) => volts > above), (row) => row.hours), allowed: hours }]
}

function total(rows: readonly DoseRow[], of: (row: DoseRow) => number): number {
  return rows.reduce((sum, row) => sum + of(row), 0)
}

function momentOf(at: string | null): number {
  return at === null ? 0 : Date.parse(at)
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}

const SECONDS_AN_HOUR = 3600
