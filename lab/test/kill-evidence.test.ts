// Kills a process that keeps files, at random points: what it acknowledged is there whole, and nothing is half there.
import { spawn } from 'node:child_process'
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { adding, BY, newLab, reopen, temporaryFolder, testSources } from './support.ts'

const KILLS = Number(process.env.GUARDBAND_KILLS ?? 100)
const LANES = 4
/** Each kill waits for a process to start; half a minute on an idle machine. */
const PATIENCE_MS = 400_000
/** About as long as two files take, after the last acknowledged one that the kill waits for. */
const LONGEST_WAIT = 30
const MOST_LINES = 4

describe(`a process that keeps files, killed at ${KILLS} random points`, () => {
  it('loses none that it acknowledged and leaves none half', { timeout: PATIENCE_MS }, async () => {
    let left = KILLS
    let acknowledged = 0
    const lane = async (number: number): Promise<void> => {
      const folder = path.join(temporaryFolder(), 'lab')
      const sources = testSources({}, number + 1)
      const rig = sources.newId()
      const lab = newLab(sources, folder)
      lab.apply({ ...BY, items: adding({ kind: 'rig', id: rig, name: 'north bench' }) })
      await lab.close()
      while (left > 0) {
        left -= 1
        const said = await saidUntilKilled([folder, rig], { lines: 1 + Math.floor(Math.random() * MOST_LINES), after: Math.random() * LONGEST_WAIT })
        const kept = said.split('\n').slice(0, -1).flatMap((line) => (line.startsWith('kept ') ? [line.split(' ')] : []))
        acknowledged += kept.length
        const after = reopen(folder, testSources({}, 1000 + left))
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
      }
    }
    await Promise.all(Array.from({ length: LANES }, (_, number) => lane(number)))
    expect(acknowledged).toBeGreaterThan(KILLS)
  })
})

function hashOf(file: string): string {
  return createHash('sha256').update(readFileSync(file)).digest('hex')
}

function saidUntilKilled(values: readonly string[], { lines, after }: { readonly lines: number; readonly after: number }): Promise<string> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [path.join(import.meta.dirname, 'children', 'keep-forever.ts'), ...values], { stdio: ['ignore', 'pipe', 'pipe'] })
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
