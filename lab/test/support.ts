// Temporary workspaces, a clock that only tests move, and a small bench of the invented lab to fill them with.
import { createHash, randomFillSync } from 'node:crypto'
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import path from 'node:path'
import { afterEach } from 'vitest'
import { createIdFactory, type ChangeItem, type GainAbout, type LabRecord } from '@guardband/model'
import { createLab, openLab, type Lab, type LabSources } from '../index.ts'

export * from './journal-files.ts'

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

/** For a workspace that is opened again and again by processes that are killed: what a kill left behind is booked under ids that must be new every time, as in life. */
export function realSources(): LabSources {
  return { now: () => Date.now(), newId: createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void randomFillSync(bytes) }) }
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
