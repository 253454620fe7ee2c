// A temporary folder with a plan, and the ports that tests stand behind it.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createIdFactory, decodeJournal, type JournalBody } from '@guardband/model'
import { readFileSync, readdirSync } from 'node:fs'
import { onTestFinished } from 'vitest'
import {
  approvalOf, createApprovalCheck, createTerminal, journalFolderOf, listCommands, nodeDisk, readPlan, runPlan,
  type JournalDisk, type RunPlanOrder, type RunPlanResult, type Terminal,
} from '../index.ts'
import { createFileHasher } from '../file-hash.ts'

export function temporaryFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'guardband-rig-'))
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }))
  return folder
}

export const BASE = { PATH: process.env['PATH'] ?? '', HOME: '/nowhere' }

/** A command of the shell, which stands on every machine that these tests run on. */
export function shell(script: string, more: Readonly<Record<string, unknown>> = {}): Readonly<Record<string, unknown>> {
  return { run: ['sh', '-c', script], ...more }
}

export const SCORE = { name: 'score', unit: 'points', direction: 'higher is better', reading: { pattern: 'score: (\\S+)' } }

/** Two tunes that write what they are into a file and are read back from it; one workload that prints it as its score. */
export function planJson(more: Readonly<Record<string, unknown>> = {}): Readonly<Record<string, unknown>> {
  return {
    schema: 1,
    id: 'bench-plan',
    title: 'Narrow against wide',
    rig: 'north bench',
    assembly: [{ slot: 'processor', part: 'Quillon 14', sample: 'Q14-01' }],
    tunes: [tune('narrow', 1), tune('wide', 2)],
    workloads: [{ name: 'photo stack', command: shell('echo "score: $(cat setting)"'), measures: [SCORE] }],
    design: { tunes: ['narrow', 'wide'], workloads: ['photo stack'], startsPerTune: 2, repeats: 2 },
    ...more,
  }
}

/** The shortest design: one start, one run. */
export const ONE_START = { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 1, repeats: 1 }

export function tune(name: string, value: number, apply = `echo ${value} > setting`): Readonly<Record<string, unknown>> {
  return { name, apply: shell(apply), readBack: [{ key: 'setting', command: shell('cat setting'), reading: { pattern: '(.*)' }, expected: value }] }
}

export interface Bench {
  readonly folder: string
  readonly rigFolder: string
  readonly said: readonly string[]
  /** Runs the plan as it is now approved. */
  readonly run: (more?: Partial<RunPlanOrder>) => Promise<RunPlanResult>
  /** The records of all journals, in the order of their files. */
  readonly journals: () => readonly (readonly JournalBody[])[]
}

/** A bench over real commands and the real disk. Its plan is approved in memory. */
export function createBench(json: Readonly<Record<string, unknown>> = planJson(), folder: string = temporaryFolder()): Bench {
  writeFileSync(join(folder, 'plan.json'), JSON.stringify(json))
  const plan = readPlan(JSON.stringify(json), 'plan.json')
  const rigFolder = join(folder, 'rig')
  const said: string[] = []
  const store = { approvals: [approvalOf(listCommands(plan, folder, BASE), { at: '2026-11-01T00:00:00Z', plan: plan.id, code: '00000000' })] }
  return {
    folder,
    rigFolder,
    said,
    run: (more) =>
      runPlan({
        plan,
        planFolder: folder,
        rigFolder,
        sources: createSources('boot-1'),
        disk: roomyDisk,
        terminal: quietTerminal(said),
        approvals: createApprovalCheck({ store, planFolder: folder, base: BASE, hash: createFileHasher() }),
        signal: new AbortController().signal,
        ...more,
      }),
    journals: () => readJournals(rigFolder).map(({ bodies }) => bodies),
  }
}

export function readJournals(rigFolder: string): readonly { readonly path: string; readonly bodies: readonly JournalBody[]; readonly damage: number }[] {
  const folder = journalFolderOf(rigFolder)
  return readdirSync(folder).toSorted().map((name) => {
    const { entries, damage } = decodeJournal(readFileSync(join(folder, name)))
    return { path: join(folder, name), bodies: entries.map(({ body }) => body), damage: damage.length }
  })
}

export function createSources(bootId: string) {
  return { now: wallClock, monotonic: () => performance.now() / 1000, newId: createIdFactory({ now: wallClock, fillRandom: (bytes) => void crypto.getRandomValues(bytes) }), bootId, uptime: () => 1000, sleep: async () => {} }
}

export function quietTerminal(said: string[], answers?: string[]): Terminal {
  return { ...createTerminal('steps'), interactive: answers !== undefined, say: (line) => void said.push(line), ask: async (question) => {
    said.push(question)
    const answer = answers?.shift()
    if (answer === undefined) throw new Error(`the test must have an answer to each question; got none for: ${question}`)
    return answer
  } }
}

/** The disk that tests run on may be nearly full; how much is free is a matter of its own test. */
export const roomyDisk: JournalDisk = { ...nodeDisk, freeBytes: async () => 1e12 }

/** The real disk until a record of that type comes for the nth time: its write (or the sync after it) fails, once; later calls are counted, and work. */
export function diskThatFailsAt(type: string, nth: number, operation: 'append' | 'sync' = 'append'): JournalDisk & { callsAfterFailure: () => readonly string[] } {
  let seen = 0
  let failed = false
  const after: string[] = []
  const fail = () => {
    failed = true
    throw new Error('no space left')
  }
  return {
    ...roomyDisk,
    callsAfterFailure: () => after,
    create: async (path) => {
      if (failed) after.push('create')
      const file = await roomyDisk.create(path)
      let due = false
      return {
        append: async (bytes) => {
          if (failed) after.push('append')
          if (Buffer.from(bytes).includes(`{"type":"${type}"`) && ++seen === nth) due = true
          if (due && operation === 'append' && !failed) fail()
          await file.append(bytes)
        },
        sync: async () => {
          if (failed) after.push('sync')
          if (due && !failed) fail()
          await file.sync()
        },
        close: () => file.close(),
      }
    },
  }
}

/** All records of one type over all journals. */
export function ofType<Type extends JournalBody['type']>(journals: readonly (readonly JournalBody[])[], type: Type): readonly Extract<JournalBody, { type: Type }>[] {
  return journals.flat().filter((body): body is Extract<JournalBody, { type: Type }> => body.type === type)
}

function wallClock(): number {
  return Date.now()
}
