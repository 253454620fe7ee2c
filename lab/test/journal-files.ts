// Plans and journals of the invented lab, as a rig would write them.
import { encodeRecord, FIRST_PREVIOUS, planHash, planSchema, type JournalBody, type Plan } from '@guardband/model'

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
