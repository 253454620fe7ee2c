// What a phone may do once it was let in: read the sheets that are open, enter what they lead to, take it back, and put pictures beside it.
import type { Lab } from '@guardband/lab'
import { ENTRY_KINDS, PHONE_ROUTES, type BenchState, type ChangeItem, type Device, type LabRecord, type Sheet } from '@guardband/model'
import { sheetProgress } from '@guardband/model/sheet'
import { keepSentEvidence } from '../routes/evidence.ts'
import type { Context } from 'hono'
import { Refusal } from '../refusal.ts'
import type { RouteServer } from '../serve-route.ts'

/** The device behind a request, looked up anew: one that was revoked while its body was on the way must not get through. Throws when it is not let in. */
export type DeviceOf = (c: Context) => Device

export function serveBenchRoutes(server: RouteServer, { deviceOf, now }: { readonly deviceOf: DeviceOf; readonly now: () => number }): void {
  server.json(PHONE_ROUTES.bench, ({ lab, c }) => benchState(lab, deviceOf(c), now()))
  server.json(PHONE_ROUTES.enter, ({ lab, input: { labId, ...entry }, c }) => {
    const { name } = deviceOf(c)
    requireLab(lab, labId)
    requireOfSheet(lab, entry.items)
    return { change: lab.apply({ ...entry, who: name }) }
  })
  server.json(PHONE_ROUTES.takeBack, ({ lab, input: { labId, entry }, c }) => {
    const { name } = deviceOf(c)
    requireLab(lab, labId)
    return { change: lab.takeBack(entry, { who: name, why: '' }) }
  })
  server.file(PHONE_ROUTES.picture, (call) => {
    const { name } = deviceOf(call.c)
    const planned = plannedStarts(call.lab)
    for (const id of call.input.about.split(',')) {
      const record = call.lab.get(id)
      const startId = record?.kind === 'run' ? record.startId : record?.kind === 'start' ? record.id : undefined
      if (startId === undefined || !planned.has(startId)) throw NOT_ON_A_SHEET
    }
    return keepSentEvidence(call, name, () => void deviceOf(call.c))
  })
}

function benchState(lab: Lab, device: Device, now: number): BenchState {
  const { lab: own } = lab.info()
  const open: Sheet[] = []
  const records: Pick<{ -readonly [Key in keyof BenchState]: BenchState[Key] }, 'starts' | 'inForce' | 'runs'> = { starts: [], inForce: [], runs: [] }
  for (const sheet of lab.list('sheet').toReversed()) {
    const starts = sheet.starts.flatMap(({ startId }) => {
      const start = lab.get(startId)
      return start?.kind === 'start' ? [start] : []
    })
    const within = starts.flatMap(({ id }) => lab.ofStart(id))
    const runs = within.filter((record) => record.kind === 'run')
    // One that was finished a moment ago is still wanted: its last entry may have to be taken back.
    const fresh = runs.some(({ at }) => at !== undefined && Date.parse(at) > now - FRESH_MS)
    if (sheetProgress(sheet, { starts, runs }).next === null && !fresh) continue
    open.push(sheet)
    records.starts.push(...starts)
    records.runs.push(...runs)
    records.inForce.push(...within.filter((record) => record.kind === 'in force'))
    if (open.length === MOST_SHEETS) break
  }
  const rigIds = new Set(open.map(({ rigId }) => rigId))
  const assemblies = lab.list('assembly').filter(({ rigId }) => rigIds.has(rigId))
  const assemblyIds = new Set(assemblies.map(({ id }) => id))
  const sampleIds = new Set([...open.flatMap(({ starts }) => starts.flatMap(({ slots }) => slots)), ...assemblies.flatMap(({ slots }) => slots)].map(({ sampleId }) => sampleId))
  const samples = lab.list('sample').filter(({ id }) => sampleIds.has(id))
  const partIds = new Set(samples.map(({ partId }) => partId))
  const tuneIds = new Set(open.flatMap(({ starts }) => starts.map(({ tuneId }) => tuneId)))
  const workloadIds = new Set(open.flatMap((sheet) => sheet.workloadIds))
  return {
    labId: own.id, labName: own.name, simulated: own.simulated, device: device.name, sheets: open, ...records, assemblies, samples,
    rigs: lab.list('rig').filter(({ id }) => rigIds.has(id)),
    mounts: lab.list('mount').filter(({ assemblyId }) => assemblyIds.has(assemblyId)),
    parts: lab.list('part').filter(({ id }) => partIds.has(id)),
    tunes: lab.list('tune').filter(({ id }) => tuneIds.has(id)),
    workloads: lab.list('workload').filter(({ id }) => workloadIds.has(id)),
  }
}

/** Newer ones come first; more than this nobody works off in a day. */
const MOST_SHEETS = 12
const FRESH_MS = 3600_000

/** A phone that was let in by another workspace of this hub keeps its entries for that one. */
function requireLab(lab: Lab, labId: string): void {
  if (lab.info().lab.id !== labId) throw new Refusal(409, { code: 'other-lab', message: 'this was entered for another workspace than the one that the hub serves now.', mend: 'Open that one at the hub.' })
}

function requireOfSheet(lab: Lab, items: readonly ChangeItem[]): void {
  const planned = plannedStarts(lab)
  const rigs = new Set(lab.list('sheet').map(({ rigId }) => rigId))
  const sent = new Map(items.flatMap(({ after }) => (after === null ? [] : [[after.id, after]])))
  const allows = (record: LabRecord): boolean => {
    if (record.kind === 'start') return planned.has(record.id)
    if (record.kind === 'run' || record.kind === 'in force') return planned.has(record.startId)
    const assembly = record.kind === 'mount' ? (sent.get(record.assemblyId) ?? lab.get(record.assemblyId)) : record
    return assembly?.kind === 'assembly' && rigs.has(assembly.rigId)
  }
  for (const { before, after } of items) {
    // What stands is changed, never taken out: taking back has its own route. Nor is anything brought onto a sheet from elsewhere.
    if (after === null || !ENTRY_KINDS.some((kind) => kind === after.kind) || !allows(after) || (before !== null && !allows(before))) throw NOT_ON_A_SHEET
  }
}

function plannedStarts(lab: Lab): ReadonlySet<string> {
  return new Set(lab.list('sheet').flatMap(({ starts }) => starts.map(({ startId }) => startId)))
}

const NOT_ON_A_SHEET = new Refusal(403, { code: 'not-on-a-sheet', message: 'a phone can enter only what stands on a sheet.', mend: 'Enter the rest on the page.' })
