// Kills a process that takes in runs, at random points, and holds the workspace against what it had acknowledged.
import { spawn } from 'node:child_process'
import { readdirSync } from 'node:fs'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { csvFile } from './kill-csv.ts'
import { newLab, realSources, reopen, seededFill, temporaryFolder, testSources } from './support.ts'

const KILLS = Number(process.env.GUARDBAND_KILLS ?? 100)
/** It takes 20 s by itself, and ten times as long beside other tests that sync the same disk all the time. */
const PATIENCE_MS = 600_000
/** Several at a time: each spends most of its life starting. */
const LANES = 4
/** A fresh workspace after this many, so that checks stay short. */
const KILLS_A_LAB = 10
/** Each makes several workspaces before it goes. */
const CREATION_KILLS = 8
const LONGEST_CREATION = 60
/** Most killed after so many acknowledged lines and up to so many milliseconds, which is about one intake; some while they open the workspace. */
const MOST_LINES = 4
const LONGEST_WAIT = 25
const SHARE_WHILE_OPENING = 0.15
const LONGEST_OPENING = 400

interface Acknowledged {
  readonly what: 'csv' | 'journal'
  readonly name: string
  readonly change: number
  readonly runs: number
}

describe(`a process that takes in runs, killed at ${KILLS} random points`, () => {
  it('loses nothing it acknowledged, leaves nothing half, and the workspace checks clean', { timeout: PATIENCE_MS }, async () => {
    const random = generator(20261105)
    let left = KILLS
    let acknowledged = 0
    const lane = async (number: number): Promise<void> => {
      for (let made = 0; left > 0; made++) {
        const folder = path.join(temporaryFolder(), 'lab')
        await newLab(testSources({}, number * 1000 + made), folder).close()
        const all: Acknowledged[] = []
        for (let kill = 0; kill < KILLS_A_LAB && left > 0; kill++) {
          left -= 1
          const fresh = await killed(
            folder,
            `${number}-${made}-${kill}`,
            random() < SHARE_WHILE_OPENING ? { lines: 0, after: random() * LONGEST_OPENING } : { lines: 1 + Math.floor(random() * MOST_LINES), after: random() * LONGEST_WAIT },
          )
          all.push(...fresh)
          acknowledged += fresh.length
          await requireWhole(folder, all, fresh)
        }
      }
    }
    await Promise.all(Array.from({ length: LANES }, (_, number) => lane(number)))
    expect(acknowledged).toBeGreaterThan(KILLS)
  })
})

describe('a process that makes workspaces, killed at random points', () => {
  it('leaves each folder either a whole workspace or not there', { timeout: PATIENCE_MS }, async () => {
    const random = generator(20261106)
    for (let kill = 0; kill < CREATION_KILLS; kill++) {
      const parent = temporaryFolder()
      const said = await outputUntilKilled(['create-forever.ts', parent], { lines: 1, after: random() * LONGEST_CREATION })
      const made = said.split('\n').slice(0, -1).map((line) => line.replace('made ', ''))
      const there = readdirSync(parent).filter((name) => !name.startsWith('.'))
      expect(there).toEqual(expect.arrayContaining(made))
      for (const name of there) {
        const lab = reopen(path.join(parent, name), realSources())
        expect(lab.head()).toBe(1)
        expect(lab.check()).toEqual([])
        await lab.close()
      }
    }
  })
})

/** Runs the child until it is killed; returns what it said before. */
async function killed(folder: string, tag: string, when: KillPoint): Promise<readonly Acknowledged[]> {
  return readLines(await outputUntilKilled(['take-in-forever.ts', folder, tag], when))
}

interface KillPoint {
  /** Whole lines that the child has said, and milliseconds after the last of them. */
  readonly lines: number
  readonly after: number
}

function outputUntilKilled([script, ...values]: readonly string[], { lines, after }: KillPoint): Promise<string> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [path.join(import.meta.dirname, 'children', script), ...values], { stdio: ['ignore', 'pipe', 'pipe'] })
    let said = ''
    let complaint = ''
    let armed = false
    const arm = (): void => {
      armed = true
      setTimeout(() => child.kill('SIGKILL'), after)
    }
    if (lines === 0) arm()
    child.stdout.on('data', (data: Buffer) => {
      said += data.toString()
      if (!armed && said.split('\n').length > lines) arm()
    })
    child.stderr.on('data', (data: Buffer) => (complaint += data.toString()))
    child.on('error', reject)
    child.on('close', (_code, signal) => {
      if (signal !== 'SIGKILL') reject(new Error(`the child ended by itself: ${complaint}`))
      else resolve(said)
    })
  })
}

/** Whole lines only: the last may be cut. */
function readLines(said: string): readonly Acknowledged[] {
  return said
    .split('\n')
    .slice(0, -1)
    .filter((line) => line !== 'ready')
    .map((line) => {
      const [what, name, change, runs] = line.split(' ')
      return { what: what === 'csv' ? 'csv' : 'journal', name, change: Number(change), runs: Number(runs) }
    })
}

async function requireWhole(folder: string, all: readonly Acknowledged[], fresh: readonly Acknowledged[]): Promise<void> {
  const lab = reopen(folder, realSources())
  for (const { change, runs } of all) {
    const items = lab.changeItems(change)
    expect(items.filter(({ after }) => after?.kind === 'run').length).toBe(runs)
    for (const { after } of items) if (after !== null) expect(lab.get(after.id)?.kind).toBe(after.kind)
  }
  for (const { what, name } of fresh) {
    if (what === 'csv') expect(lab.intakeRuns({ text: csvFile(name), file: name, who: 'test', only: 'preview' }).seenBefore).toBe(true)
  }
  let runs = 0
  for (const change of lab.changes({ count: 100_000 })) {
    const promised = /^Took in (\d+) runs? /.exec(change.what)?.[1]
    const found = lab.changeItems(change.seq).filter(({ after }) => after?.kind === 'run').length
    expect(found).toBe(Number(promised ?? 0))
    runs += found
  }
  expect(lab.info().counts.runs).toBe(runs)
  expect(lab.check()).toEqual([])
  await lab.close()
}

/** Numbers from 0 up to 1 that repeat with the seed. */
function generator(seed: number): () => number {
  const fill = seededFill(seed)
  return () => {
    const bytes = new Uint8Array(4)
    fill(bytes)
    return new DataView(bytes.buffer).getUint32(0) / 2 ** 32
  }
}
