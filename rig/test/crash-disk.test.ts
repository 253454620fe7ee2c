// The journal on a disk that loses, tears and reorders what was not synced: a plan of more than 60 records, every state that a crash may leave, and a second
// crash while the first is taken up.
import { createHash } from 'node:crypto'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { approvalOf, createApprovalCheck, createPlanSource, journalFolderOf, listCommands, readPlan, runPlan } from '../index.ts'
import { createFileHasher } from '../file-hash.ts'
import { readJournalFolder } from '../journal-folder.ts'
import { planHash } from '@guardband/model'
import { crashStates, diskOf, recordingDisk, type Cuts, type DiskStep, type Files, type RecordingDisk } from './crash-disk.ts'
import { BASE, createSources, planJson, quietTerminal, SCORE, shell, temporaryFolder, tune } from './kit.ts'

const CUTS: Cuts = process.env['GUARDBAND_CUTS'] === 'every byte' ? 'every byte' : 'where it matters'
/** Every so many of the states are carried on to the end of the plan, each with a crash on the way. */
const CARRIED_ON = Number(process.env['GUARDBAND_CARRIED_ON'] ?? 20)

const JSON_PLAN = planJson({
  tunes: [tune('narrow', 1), tune('wide', 2), tune('wider', 3), tune('not to be had', 4, 'echo 9 > setting')],
  workloads: [{ name: 'photo stack', command: shell('echo run >> runs; test "$(cat setting)" = 3 && { echo "tile 7: wrong sum"; exit 5; }; echo "score: $(cat setting)"'), measures: [SCORE] }],
  design: undefined,
  limits: { graceSeconds: 3, restartsPerHour: 60, crashesPerTune: 100 },
  steps: [
    { id: 'c1', kind: 'change', tune: 'narrow', start: 'live' },
    ...['r1', 'r2', 'r3'].map((id) => ({ id, kind: 'run', workload: 'photo stack' })),
    { id: 'a1', kind: 'adjust', tune: 'wide' },
    ...['r4', 'r5', 'r6'].map((id) => ({ id, kind: 'run', workload: 'photo stack' })),
    { id: 'c2', kind: 'change', tune: 'wider', start: 'live' },
    ...['r7', 'r8'].map((id) => ({ id, kind: 'run', workload: 'photo stack' })),
    { id: 'c3', kind: 'change', tune: 'not to be had', start: 'live' },
    { id: 'r9', kind: 'run', workload: 'photo stack' },
    { id: 'c4', kind: 'change', tune: 'wide', start: 'live' },
    ...['r10', 'r11'].map((id) => ({ id, kind: 'run', workload: 'photo stack' })),
    { id: 'l1', kind: 'ladder', tunes: ['narrow', 'wide', 'wider'], workload: 'photo stack', repeats: 2, start: 'live', stopAfterFailures: 1, stepDown: { repeats: 2 } },
  ],
})
const PLAN_TEXT = JSON.stringify({ ...JSON_PLAN, design: undefined })

describe('a journal on a crashing disk', () => {
  it('loses nothing acknowledged in any state that a crash may leave, and leaves nothing half', { timeout: 300_000 }, async () => {
    const bench = createRig()
    const whole = recordingDisk()
    const acted: Acted[] = []
    expect(await bench.session(whole, 'boot-1', acted)).toBe('finished')
    // Each run was begun and said to be over.
    expect(acted.length).toBeGreaterThan(30)
    const records = recordsIn(whole.steps)
    expect(records.length).toBeGreaterThan(60)
    expect(whole.steps.filter(({ kind, path }) => kind === 'made' && path.includes('kept')), 'what failed runs printed, once').toHaveLength(1)
    let states = 0
    for (const { after, files } of crashStates(whole.steps, { cuts: CUTS })) {
      states += 1
      await judge(bench, files, [...acknowledged(whole.steps, after), ...acted.filter((each) => each.after <= after).map(({ told }) => told)])
    }
    // One at least for each step of the log, and far more where something was open.
    expect(states).toBeGreaterThan(whole.steps.length * 5)
  })

  it('is carried on to its end from any of them: no finished run again, each step in flight closed once, and a crash while it is closed changes nothing', { timeout: 300_000 }, async () => {
    const bench = createRig()
    const whole = recordingDisk()
    await bench.session(whole, 'boot-1')
    const all = [...crashStates(whole.steps, { cuts: 'where it matters' })]
    const every = Math.max(1, Math.floor(all.length / CARRIED_ON))
    let carried = 0
    let second = 0
    for (const { after, files } of all.filter((_, place) => place % every === 0)) {
      const told = acknowledged(whole.steps, after)
      const on = recordingDisk(files)
      expect(await bench.session(on, 'boot-2')).toBe('finished')
      await judgeEnd(bench, settled(files, on.steps), told)
      carried += 1
      // Every state of a crash on the way to the first run of this second session.
      const took = takeUpOf(on.steps)
      for (const state of crashStates(took, { left: files, cuts: 'where it matters' })) {
        await judge(bench, state.files, [...told, ...acknowledged(took, state.after)])
        second += 1
      }
      // One of them goes all the way.
      const states = [...crashStates(took, { left: files, cuts: 'where it matters' })]
      const again = states[Math.floor(states.length * ((carried * 0.618) % 1))]
      const third = recordingDisk(again.files)
      expect(await bench.session(third, 'boot-3')).toBe('finished')
      await judgeEnd(bench, settled(again.files, third.steps), [...told, ...acknowledged(took, again.after)])
    }
    expect(carried).toBeGreaterThanOrEqual(Math.min(CARRIED_ON, all.length))
    expect(second).toBeGreaterThan(carried * 5)
  })
})

/** What stands in a line, read without the rig's own codec. */
interface Told {
  readonly line: string
  readonly type: string
  readonly step: string
  readonly runId: string
  readonly outcome: string
}

/** What the rig had gone by when so many steps were finished: from then on it must stand, whatever was synced. */
interface Acted {
  readonly after: number
  readonly told: Told
}

function toldBy(bytes: Uint8Array): readonly Told[] {
  return Buffer.from(bytes).toString().split('\n').filter((line) => line !== '').map((line) => {
    const { type, step = '', runId = '', outcome = '' } = JSON.parse(line.slice(line.indexOf('{'))) as Partial<Told> & { readonly type: string }
    return { line, type, step, runId, outcome }
  })
}

/** Other files are what failed runs printed. */
function isJournal(path: string): boolean {
  return path.endsWith('.journal')
}

function recordsIn(steps: readonly DiskStep[]): readonly Told[] {
  return steps.flatMap((step) => (step.kind === 'appended' && isJournal(step.path) ? toldBy(step.bytes) : []))
}

/** What had been synced when so many steps were finished. */
function acknowledged(steps: readonly DiskStep[], after: number): readonly Told[] {
  const last = steps.slice(0, after).findLastIndex(({ kind, path }) => kind === 'synced' && isJournal(path))
  return recordsIn(steps.slice(0, last + 1))
}

/** Up to the first run that this session began, or all of it. */
function takeUpOf(steps: readonly DiskStep[]): readonly DiskStep[] {
  const first = steps.findIndex((step) => step.kind === 'appended' && isJournal(step.path) && toldBy(step.bytes).some(({ type }) => type === 'begin'))
  return first === -1 ? steps : steps.slice(0, first)
}

/** All that was written, as the disk holds it in the end. */
function settled(left: Files, steps: readonly DiskStep[]): Files {
  const files = new Map<string, Uint8Array>(left)
  for (const step of steps) if (step.kind === 'appended') files.set(step.path, Buffer.concat([files.get(step.path) ?? new Uint8Array(), step.bytes]))
  return files
}

interface Rig {
  readonly folder: string
  readonly plan: ReturnType<typeof readPlan>
  readonly session: (recording: RecordingDisk, bootId: string, acted?: Acted[]) => Promise<string>
}

function createRig(): Rig {
  const folder = temporaryFolder()
  writeFileSync(join(folder, 'plan.json'), PLAN_TEXT)
  const plan = readPlan(PLAN_TEXT, 'plan.json')
  const store = { approvals: [approvalOf(listCommands(plan, folder, BASE), { at: '2026-11-01T00:00:00Z', plan: plan.id, code: '00000000' })] }
  return {
    folder,
    plan,
    session: async ({ disk, steps }, bootId, acted = []) => {
      const check = createApprovalCheck({ store, planFolder: folder, base: BASE, hash: createFileHasher() })
      /** A command is about to run, or a person was told of an end: the record behind it has been acknowledged. */
      const mark = (wanted: (record: Told) => boolean): void => {
        const told = recordsIn(steps).findLast(wanted)
        if (told !== undefined) acted.push({ after: steps.length, told })
      }
      const { outcome, message } = await runPlan({
        plan, planFolder: folder, rigFolder: join(folder, 'rig'), sources: createSources(bootId), disk, attendance: 'unattended', signal: new AbortController().signal,
        approvals: (command) => {
          const ended = new Set(recordsIn(steps).flatMap(({ type, runId }) => (type === 'end' ? [runId] : [])))
          mark(({ type, runId }) => type === 'begin' && !ended.has(runId))
          return check(command)
        },
        terminal: { ...quietTerminal([]), detail: 'steps', say: (line) => mark(({ type, step }) => type === 'end' && line.split(/\s+/).includes(step)) },
      })
      return message ?? outcome
    },
  }
}

/** Whatever a crash left: all that was acknowledged is read, nothing finished comes again, and what was begun is in flight once. */
async function judge({ folder, plan }: Rig, files: Files, told: readonly Told[]): Promise<void> {
  const reading = await readJournalFolder(diskOf(files), journalFolderOf(join(folder, 'rig')), planHash(plan))
  const read = new Map(reading.journals.flatMap(({ entries }) => entries.map(({ hash, body }) => [hash, body])))
  for (const { line } of told) if (!read.has(createHash('sha256').update(line).digest('hex'))) throw new Error(`acknowledged, yet not read: ${line}`)
  for (const { line, type } of told) {
    if (type !== 'end') continue
    const { kept = [] } = JSON.parse(line.slice(line.indexOf('{'))) as { readonly kept?: readonly { readonly sha256: string }[] }
    for (const { sha256 } of kept) {
      const printed = files.get(join(folder, 'rig', 'kept', sha256)) ?? new Uint8Array()
      if (createHash('sha256').update(printed).digest('hex') !== sha256) throw new Error(`named by an acknowledged end, yet not whole: ${sha256}`)
    }
  }
  const source = createPlanSource(plan)
  const left = new Set(source.remaining(reading).map(({ id }) => id))
  const closed = new Set(told.flatMap(({ type, runId }) => (type === 'end' || type === 'resolved' ? [runId] : [])))
  for (const { type, step, outcome } of told) {
    const ends = type === 'done' || ((type === 'end' || type === 'resolved') && outcome !== 'stopped by a person')
    if (ends && left.has(step)) throw new Error(`finished, yet to be done again: ${step}`)
  }
  const inFlight = reading.inFlight.map(({ begin }) => begin.runId)
  const survived = new Set([...read.values()].flatMap((body) => (body.type === 'end' || body.type === 'resolved' ? [body.runId] : [])))
  for (const { type, runId } of told) {
    if (type !== 'begin' || closed.has(runId)) continue
    expect(inFlight.filter((id) => id === runId)).toHaveLength(survived.has(runId) ? 0 : 1)
  }
  expect(new Set(inFlight).size).toBe(inFlight.length)
}

/** At the end of the plan each run has one end that counts, and none that was acknowledged was carried out again. */
async function judgeEnd(rig: Rig, files: Files, told: readonly Told[]): Promise<void> {
  await judge(rig, files, told)
  const reading = await readJournalFolder(diskOf(files), journalFolderOf(join(rig.folder, 'rig')), planHash(rig.plan))
  expect(createPlanSource(rig.plan).next(reading)).toBeNull()
  expect(reading.inFlight).toEqual([])
  const bodies = reading.journals.flatMap(({ entries }) => entries.map(({ body }) => body))
  const begun = Map.groupBy(bodies.filter((body) => body.type === 'begin'), ({ step }) => step)
  for (const [step, begins] of begun) {
    const ends = bodies.filter((body) => (body.type === 'end' || body.type === 'resolved') && body.step === step)
    // A step that was in flight is closed, not carried out again: its machine restarted, so its outcome is that.
    expect([step, ends.length, begins.length]).toEqual([step, 1, 1])
    const [end] = ends
    if (end.type === 'resolved') expect(end.outcome).toBe('machine reset')
  }
}
