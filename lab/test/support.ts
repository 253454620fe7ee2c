// Temporary workspaces, a clock that only tests move, and a small bench of the invented lab to fill them with.
import { createHash } from 'node:crypto'
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import path from 'node:path'
import { afterEach } from 'vitest'
import { createIdFactory, encodeRecord, FIRST_PREVIOUS, planHash, planSchema, type ChangeItem, type GainAbout, type JournalBody, type LabRecord, type Plan } from '@guardband/model'
import { createLab, openLab, type Lab, type LabSources } from '../index.ts'

export const CLOCK_START = Date.parse('2026-11-05T08:00:00Z')

const folders: string[] = []
const open: Lab[] = []

afterEach(async () => {
  for (const lab of open.splice(0)) await lab.close()
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true, force: true })
})

export function temporaryFolder(): string {
  const folder = mkdtempSync(path.join(tmpdir(), 'guardband-lab-'))
  folders.push(folder)
  return folder
}

/** Each call of `now` is a second later; random bytes come from a counter, so a run repeats exactly. */
export function testSources(more: Partial<LabSources> = {}, seed = 1): LabSources {
  let ticks = 0
  const now = (): number => CLOCK_START + 1000 * ticks++
  return { now, newId: createIdFactory({ now, fillRandom: seededFill(seed) }), ...more }
}

export function seededFill(seed: number): (bytes: Uint8Array) => void {
  let counter = 0
  return (bytes) => {
    bytes.set(createHash('sha256').update(`${seed} ${counter++}`).digest().subarray(0, bytes.length))
  }
}

export function newLab(sources = testSources(), folder = path.join(temporaryFolder(), 'lab')): Lab {
  return track(createLab(folder, { name: 'Hollin & Pike', currency: 'EUR', simulated: true }, sources))
}

export function reopen(folder: string, sources = testSources({}, 2)): Lab {
  return track(openLab(folder, sources))
}

export function track(lab: Lab): Lab {
  open.push(lab)
  return lab
}

export function adding(...records: readonly LabRecord[]): readonly ChangeItem[] {
  return records.map((after) => ({ before: null, after }))
}

export const BY = { who: 'Ada Hollin', what: 'Test', why: '' } as const

/** Every file of a folder with its content's hash and size, by relative name. */
export function folderState(folder: string): Readonly<Record<string, string>> {
  return Object.fromEntries(
    readdirSync(folder, { recursive: true, encoding: 'utf8' })
      .toSorted()
      .flatMap((name) => {
        const file = path.join(folder, name)
        return statSync(file).isFile() ? [[name, createHash('sha256').update(readFileSync(file)).digest('hex')]] : []
      }),
  )
}

/** Two processors, two tunes, one workload in seconds, a rig; ready for starts and runs. */
export function bench(sources: LabSources) {
  const id = sources.newId
  const part = (name: string): LabRecord & { kind: 'part' } => ({ kind: 'part', id: id(), name, slot: 'processor', prices: [] })
  const a = part('Quillon 14')
  const b = part('Quillon 14R')
  const sample = (of: { readonly id: string }, label: string): LabRecord & { kind: 'sample' } => ({ kind: 'sample', id: id(), partId: of.id, label, origin: 'retail', picked: 'at random', status: 'bench' })
  const a1 = sample(a, '1')
  const a2 = sample(a, '2')
  const b1 = sample(b, '1')
  const tune = (name: string): LabRecord & { kind: 'tune' } => ({ kind: 'tune', id: id(), name, settings: [] })
  const t65 = tune('65 W')
  const t95 = tune('95 W')
  const workload: LabRecord & { kind: 'workload' } = { kind: 'workload', id: id(), name: 'tile render, all cores', group: 'render', measures: [{ name: 'time', unit: 's', direction: 'lower is better', resolution: 0.1 }] }
  const suite: LabRecord & { kind: 'suite' } = { kind: 'suite', id: id(), name: 'crew work', items: [{ workloadId: workload.id, measure: 'time', weight: 2 }] }
  const rig: LabRecord & { kind: 'rig' } = { kind: 'rig', id: id(), name: 'north bench' }
  const seat = (of: { readonly id: string }, ...more: readonly { readonly slot: 'memory' | 'cooler'; readonly sampleId: string }[]): LabRecord & { kind: 'assembly' } => ({
    kind: 'assembly', id: id(), rigId: rig.id, since: '2026-11-01T08:00:00Z', slots: [...more, { slot: 'processor', sampleId: of.id }],
  })
  const seats = [seat(a1), seat(a2), seat(b1)] as const
  const records: LabRecord[] = [a, b, a1, a2, b1, t65, t95, workload, suite, rig, ...seats]
  let order = 0
  /** A start with one in-force record and one run a value. */
  const start = (assembly: { readonly id: string }, asked: { readonly id: string }, values: readonly number[], more: Partial<LabRecord & { kind: 'start' }> = {}, held: { readonly id: string } | null = asked): readonly [LabRecord & { kind: 'start' }, LabRecord & { kind: 'in force' }, ...(LabRecord & { kind: 'run' })[]] => {
    const startId = id()
    const inForceId = id()
    return [
      { kind: 'start', id: startId, rigId: rig.id, assemblyId: assembly.id, tuneId: asked.id, order: order++, how: 'cold', result: 'started', conditions: { firmware: 'F1' }, ...more },
      { kind: 'in force', id: inForceId, startId, ...(held === null ? {} : { tuneId: held.id }), known: 'read back', settings: [] },
      ...values.map((value, place) => ({ kind: 'run' as const, id: id(), startId, inForceId, workloadId: workload.id, order: place, outcome: 'scored' as const, measures: [{ name: 'time', value }] })),
    ]
  }
  const about = (more: Partial<GainAbout> = {}): GainAbout => ({
    a: { partId: a.id }, b: { partId: b.id }, suiteId: suite.id, slot: 'processor', smallestGain: { percent: 1, fixedAt: '2026-11-01T08:00:00Z' }, ...more,
  })
  return { a, b, a1, a2, b1, t65, t95, workload, suite, rig, seats, seat, sample, part, records, start, about }
}

export function testPlan(more: Partial<Plan> = {}): Plan {
  const command = { run: ['render'], timeLimitSeconds: 600 }
  return planSchema.parse({
    schema: 1,
    id: 'plan-1',
    title: 'Power limits',
    rig: 'north bench',
    assembly: [
      { slot: 'processor', part: 'Quillon 14', sample: '1', batch: 'week 31', origin: 'retail', picked: 'at random' },
      { slot: 'memory', part: 'Marram 5600', sample: 'kit 1' },
    ],
    conditions: { firmware: 'F1', cooling: 'Burrow 120' },
    tunes: [{ name: '65 W', settings: [{ key: 'package power', asked: { shape: 'scalar', value: 65, unit: 'W' } }] }, { name: '95 W' }],
    workloads: [{ name: 'tile render, all cores', group: 'render', command, weight: 3, measures: [{ name: 'time', unit: 's', direction: 'lower is better', reading: { elapsed: 'seconds' } }] }],
    design: { tunes: ['65 W', '95 W'], workloads: ['tile render, all cores'], startsPerTune: 2, repeats: 2, start: 'warm' },
    ...more,
  })
}

export interface JournalIds {
  readonly journal: string
  readonly startId: string
  readonly inForceId: string
  readonly runs: readonly [string, string]
}

export function journalIds(newId: () => string): JournalIds {
  return { journal: newId(), startId: newId(), inForceId: newId(), runs: [newId(), newId()] }
}

const AT = '2026-11-05T09:00:00.000Z'

/** Bodies of a whole journal: open, start, in force, two runs, close. */
export function journalBodies(ids: JournalIds, more: { readonly plan?: Plan; readonly order?: number; readonly previous?: { readonly journal: string; readonly lastHash: string }; readonly tune?: string } = {}): readonly JournalBody[] {
  const plan = more.plan ?? testPlan()
  const tune = more.tune ?? '65 W'
  const begin = (index: 0 | 1): JournalBody => ({ type: 'begin', at: AT, step: `b1.t1.w1.r${index + 1}`, runId: ids.runs[index], inForceId: ids.inForceId, workload: 'tile render, all cores', order: index })
  const end = (index: 0 | 1, value: number): JournalBody => ({
    type: 'end', at: AT, step: `b1.t1.w1.r${index + 1}`, runId: ids.runs[index], outcome: 'scored', measures: [{ name: 'time', value }], seconds: value, exitStatus: 0, signal: null,
  })
  return [
    {
      type: 'open', at: AT, format: 1, journal: ids.journal, program: 'test', planHash: planHash(plan), plan, step: 'b1.t1', startId: ids.startId, startOrder: more.order ?? 0,
      previous: more.previous ?? null, bootId: 'boot 1',
    },
    { type: 'start', at: AT, tune, how: 'warm', result: 'started', conditions: { ambient: 21.5 } },
    { type: 'in force', at: AT, inForceId: ids.inForceId, tune, known: 'read back', observed: [{ key: 'package power', expected: 65, found: 65, unit: 'W', matches: true }] },
    begin(0),
    { type: 'heartbeat', at: AT, step: 'b1.t1.w1.r1', elapsed: 10 },
    end(0, 41.5),
    begin(1),
    end(1, 41.75),
    { type: 'close', at: AT, reason: 'the plan is done' },
  ]
}

export interface JournalFile {
  readonly bytes: Uint8Array
  readonly lastHash: string
  /** Where each line begins, and the end. */
  readonly cuts: readonly number[]
}

export function journalFile(bodies: readonly JournalBody[]): JournalFile {
  let hash = FIRST_PREVIOUS
  const lines = bodies.map((body, sequence) => {
    const line = encodeRecord(sequence, hash, body)
    hash = line.hash
    return line.bytes
  })
  const cuts = [0]
  for (const line of lines) cuts.push((cuts.at(-1) ?? 0) + line.length)
  return { bytes: Buffer.concat(lines), lastHash: hash, cuts }
}
