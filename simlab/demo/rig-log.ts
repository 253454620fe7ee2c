// Plays the demo's campaigns on their rigs: assemblies, mounts, starts, what was in force, and runs, with their times.
import { sha256Hex } from '@guardband/model'
import type { Conditions, LabRecord, RecordOf, SettingInForce } from '@guardband/model'
import { namedStream } from '../generator.ts'
import type { Generator } from '../generator.ts'
import { FALLBACK_RATE, WORKLOADS } from './catalogue.ts'
import type { DemoTune, DemoWorkload } from './catalogue.ts'
import type { BaseRecords } from './base-records.ts'
import type { DemoCampaign, RigKey, Visit } from './campaigns.ts'
import { drawMishap, drawRepeat, drawStart, drawTraining, shownValue, trueLogScore } from './machine.ts'
import type { Machine } from './machine.ts'

export interface RigLogOptions {
  readonly seed: number
  readonly rig: RigKey
  readonly campaigns: readonly DemoCampaign[]
  readonly base: BaseRecords
  /** A function that makes ids as of this moment (milliseconds since 1970). */
  readonly idAt: (moment: number) => string
}

const FIRMWARE_HASH = sha256Hex('simulated firmware image 0.4.17').slice(0, 16)

/** What surrounded every start of the week alike. */
export const STANDING_CONDITIONS: Conditions = {
  firmware: `Cairn M2 0.4.17, sha256 ${FIRMWARE_HASH}`, microcode: 'rev 2c', systemImage: 'bench image 2026-10', drivers: 'chipset 3.2, graphics 11.4', powerPlan: 'steady',
  cooling: 'Burrow 120', fans: 'fixed 900 rpm', graphicsClocks: 'fixed',
}

/** All that happened on one rig, in the order in which it happened. */
export function rigLog(options: RigLogOptions): readonly LabRecord[] {
  const state: RigState = { ...options, records: [], now: 0, stream: namedStream(options.seed, `log of ${options.rig}`), seated: undefined, place: 0 }
  for (const campaign of options.campaigns) playCampaign(state, campaign)
  return state.records
}

interface Seat {
  readonly assemblyId: string
  readonly mountId: string
  readonly processor: string
  readonly kit: string
}

interface RigState extends RigLogOptions {
  readonly records: LabRecord[]
  readonly stream: Generator
  now: number
  seated: Seat | undefined
  /** Starts so far, for the room's slow warming over a day. */
  place: number
}

const SECOND = 1000
const MINUTE = 60 * SECOND
const HOUR = 60 * MINUTE
const OPENS = 8
/** No new start after this hour. */
const CLOSES = 18.5
const REPEATS = 3
const SWAP_MINUTES = 19
const KIT_MINUTES = 8
const TUNE_MINUTES = 3
const PAUSE_SECONDS = 4

function playCampaign(state: RigState, campaign: DemoCampaign): void {
  state.now = Math.max(state.now, Date.UTC(2026, 10, campaign.day, OPENS, 5))
  const planned = campaign.visits.reduce((sum, visit) => sum + visit.tunes.length, 0)
  let done = 0
  for (const visit of campaign.visits) {
    for (const [index, tune] of visit.tunes.entries()) {
      openNextDay(state)
      const seat = seatOf(state, visit)
      if (index > 0) wait(state, visit.tunes[index - 1] === tune ? 1 : TUNE_MINUTES)
      const drift = planned > 1 ? campaign.drift * (done / (planned - 1) - 1 / 2) : 0
      startUntilTrained(state, seat, tune, drift)
      done += 1
    }
  }
}

function wait(state: RigState, minutes: number): void {
  state.now += Math.round(minutes * MINUTE * (1 + 0.2 * state.stream.uniform()))
}

function openNextDay(state: RigState): void {
  const midnight = Math.floor(state.now / (24 * HOUR)) * 24 * HOUR
  if (state.now > midnight + CLOSES * HOUR) state.now = midnight + (24 + OPENS) * HOUR + Math.round(10 * MINUTE * state.stream.uniform())
}

/** What sits there stays; another processor means another mounting of the cooler, another kit does not. */
function seatOf(state: RigState, visit: Visit): Seat {
  const { seated, base, rig } = state
  if (seated !== undefined && seated.processor === visit.processor && seated.kit === visit.kit) return seated
  const remounted = seated?.processor !== visit.processor
  wait(state, remounted ? SWAP_MINUTES : KIT_MINUTES)
  const assemblyId = state.idAt(state.now)
  const slots: RecordOf<'assembly'>['slots'] = [
    { slot: 'processor', sampleId: base.id(visit.processor) },
    { slot: 'memory', position: 'both channels', sampleId: base.id(visit.kit) },
    ...base.fixtures[rig],
  ]
  state.records.push({ kind: 'assembly', id: assemblyId, rigId: base.id(rig), since: moment(state.now), slots })
  let mountId = seated?.mountId
  if (remounted || mountId === undefined) {
    mountId = state.idAt(state.now)
    state.records.push({ kind: 'mount', id: mountId, assemblyId, at: moment(state.now), paste: 'house paste, one line', torque: '0.6 Nm' })
  }
  state.seated = { assemblyId, mountId, processor: visit.processor, kit: visit.kit }
  return state.seated
}

/** Failed and fallback starts are recorded as what they are; then it is tried again. */
function startUntilTrained(state: RigState, seat: Seat, tune: DemoTune, drift: number): void {
  for (;;) {
    const training = drawTraining(state.stream, tune)
    const at = state.now
    const seconds = Math.round(TRAINING_SECONDS * (1 + 0.25 * state.stream.uniform()) * (training === 'full' ? 1 : FAILED_TRIES))
    const startId = state.idAt(at)
    state.records.push({
      kind: 'start', id: startId, rigId: state.base.id(state.rig), assemblyId: seat.assemblyId, mountId: seat.mountId, tuneId: state.base.id(tune.key),
      at: moment(at), how: 'cold', result: STARTS_AS[training],
      training: { result: training, tries: training === 'full' ? 1 : FAILED_TRIES, seconds, ...(training === 'failed' ? { postCode: '51' } : {}) },
      conditions: conditionsOf(state, at), source: 'simulated bench',
    })
    state.place += 1
    state.now += seconds * SECOND + Math.round(2 * MINUTE * (1 + 0.3 * state.stream.uniform()))
    if (training !== 'failed') runStart(state, { startId, seat, tune: training === 'full' ? tune : { ...tune, dataRate: FALLBACK_RATE }, booked: training === 'full', drift })
    if (training === 'full') return
    wait(state, TUNE_MINUTES)
  }
}

const TRAINING_SECONDS = 48
const FAILED_TRIES = 3
const STARTS_AS = { full: 'started', fallback: 'fallback start', failed: 'no start' } as const

interface StartInForce {
  readonly startId: string
  readonly seat: Seat
  readonly tune: DemoTune
  /** False at fallback: what is in force is no tune of the lab. */
  readonly booked: boolean
  readonly drift: number
}

function runStart(state: RigState, { startId, seat, tune, booked, drift }: StartInForce): void {
  const inForceId = state.idAt(state.now)
  const known = booked ? 'read back' : 'seen by a person'
  state.records.push({
    kind: 'in force', id: inForceId, startId, from: moment(state.now), known, settings: settingsOf(tune, known),
    ...(booked ? { tuneId: state.base.id(tune.key) } : { note: 'The memory fell back; the start was stopped after two runs.' }),
  })
  const machine: Machine = { processor: seat.processor, kit: seat.kit, tune }
  const effects = drawStart(state.stream, drift)
  // At fallback a person needs two runs to notice.
  const planned = Array.from({ length: REPEATS }, () => WORKLOADS).flat().slice(0, booked ? undefined : 2)
  for (const [order, workload] of planned.entries()) {
    const logScore = trueLogScore(state.seed, machine, workload, 'these') + effects.effect[WORKLOADS.indexOf(workload)] + drawRepeat(state.stream)
    const mishap = booked ? drawMishap(state.seed, state.stream, machine, workload) : 'none'
    const value = shownValue(logScore, workload)
    const full = workload.measure.name === 'time' ? value : workload.seconds
    const seconds = mishap === 'none' ? full : Math.round(10 * full * state.stream.uniform()) / 10
    state.records.push({
      kind: 'run', id: state.idAt(state.now), startId, inForceId, workloadId: state.base.id(workload.key), order, at: moment(state.now),
      ...(mishap === 'none' ? { outcome: 'scored', measures: [{ name: workload.measure.name, value }] } : mishapOf(state, mishap, workload)),
      exposure: { seconds },
    })
    state.now += Math.round((seconds + PAUSE_SECONDS) * SECOND)
    // A reset ends the start; the rest of it is not made up for.
    if (mishap === 'machine reset') return
  }
}

function mishapOf(state: RigState, mishap: 'machine reset' | 'program died', workload: DemoWorkload): Pick<RecordOf<'run'>, 'outcome' | 'measures' | 'phase' | 'place'> {
  const phase = workload.group === 'many cores' ? 'heavy' : 'light'
  return mishap === 'machine reset' ? { outcome: mishap, measures: [], phase, place: `core ${state.stream.pick(CORES)}` } : { outcome: mishap, measures: [], phase }
}

const CORES = 14

function settingsOf({ watts, dataRate, offset }: DemoTune, known: 'read back' | 'seen by a person'): SettingInForce[] {
  return [
    { key: 'package power limit', scope: { level: 'package' }, value: { shape: 'scalar', value: watts, unit: 'W' }, known },
    { key: 'memory data rate', scope: { level: 'machine' }, value: { shape: 'scalar', value: dataRate, unit: 'MT/s' }, known },
    { key: 'core voltage offset', scope: { level: 'package' }, value: { shape: 'scalar', value: offset, unit: 'mV' }, known },
  ]
}

/** The room warms by two degrees from morning to evening. */
function conditionsOf(state: RigState, at: number): Conditions {
  const hour = (at % (24 * HOUR)) / HOUR
  const ambient = 21.4 + (2 * (hour - OPENS)) / (CLOSES - OPENS) + 0.3 * state.stream.normal()
  return { ...STANDING_CONDITIONS, ambient: Math.round(10 * ambient) / 10, humidity: Math.round(44 + 2 * state.stream.normal()) }
}

function moment(milliseconds: number): string {
  return new Date(milliseconds).toISOString()
}
