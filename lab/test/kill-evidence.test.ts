// Kills a process that keeps files, at random points: what it acknowledged is there whole, and nothing is half there.
import { spawn } from 'node:child_process'
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { adding, BY, newLab, realSources, reopen, temporaryFolder } from './support.ts'

const KILLS = Number(process.env.GUARDBAND_KILLS ?? 100)
/** Several at a time: each spends most of its life starting. */
const LANES = 4
/** A fresh workspace after this many, so that checks stay short. */
const KILLS_A_LAB = 10
/** Starting a process costs most; half a minute of processor time in all, and many times that on a crowded machine. */
const PATIENCE_MS = 400_000
/** About as long as two files take, after the last acknowledged one that the kill waits for. */
const LONGEST_WAIT = 30
const MOST_LINES = 4

describe(`a process that keeps files, killed at ${KILLS} random points`, () => {
  it('loses none that it acknowledged and leaves none half', { timeout: PATIENCE_MS }, async () => {
    // The first to start compiles for all.
    const compiled = temporaryFolder()
    let left = KILLS
    let acknowledged = 0
    const lane = async (): Promise<void> => {
      while (left > 0) {
        const folder = path.join(temporaryFolder(), 'lab')
        const sources = realSources()
        const rig = sources.newId()
        const lab = newLab(sources, folder)
        lab.apply({ ...BY, items: adding({ kind: 'rig', id: rig, name: 'north bench' }) })
        await lab.close()
        for (let kill = 0; kill < KILLS_A_LAB && left > 0; kill++) {
          left -= 1
          const said = await saidUntilKilled([folder, rig], { compiled, lines: 1 + Math.floor(Math.random() * MOST_LINES), after: Math.random() * LONGEST_WAIT })
          acknowledged += await requireWhole(folder, said)
        }
      }
    }
    await Promise.all(Array.from({ length: LANES }, lane))
    expect(acknowledged).toBeGreaterThan(KILLS)
  })
})

/** Returns how many files were acknowledged. */
async function requireWhole(folder: string, said: string): Promise<number> {
  // Whole lines only: the last may be cut.
  const kept = said.split('\n').slice(0, -1).flatMap((line) => (line.startsWith('kept ') ? [line.split(' ')] : []))
  const after = reopen(folder, realSources())
  for (const [, id, sha256] of kept) {
    expect(after.get(id)).toMatchObject({ kind: 'evidence', sha256 })
    expect(after.evidence.file(id, 'file').bytes).toBe(40_000)
  }
  // A file may be there whole whose record was never acknowledged; nothing else is amiss.
  for (const { place, sentence } of after.check()) {
    expect(sentence).toMatch(/^No record ever named this file/)
    expect(`evidence/${hashOf(path.join(folder, place))}`).toBe(place)
  }
  await after.close()
  return kept.length
}

function hashOf(file: string): string {
  return createHash('sha256').update(readFileSync(file)).digest('hex')
}

function saidUntilKilled(values: readonly string[], { compiled, lines, after }: { readonly compiled: string; readonly lines: number; readonly after: number }): Promise<string> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [path.join(import.meta.dirname, 'children', 'keep-forever.ts'), ...values], { env: { ...process.env, NODE_COMPILE_CACHE: compiled }, stdio: ['ignore', 'pipe', 'pipe'] })
    let said = ''
    let complaint = ''
    let armed = false
    child.stdout.on('data', (data: Buffer) => {
      said += data.toString()
      if (armed || said.split('\n').length <= lines) return
      armed = true
      setTimeout(() => child.kill('SIGKILL'), after)
    })
    child.stderr.on('data', (data: Buffer) => (complaint += data.toString()))
    child.on('error', reject)
    child.on('close', (_code, signal) => (signal === 'SIGKILL' ? resolve(said) : reject(new Error(`the child ended by itself: ${complaint}`))))
  })
}
