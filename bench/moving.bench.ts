// 100,000 runs taken elsewhere: each export, import and backup in seconds and peak memory, beside a plain copy of the folder and a plain parse of the records.
import { cpSync, mkdtempSync, rmSync, statSync } from 'node:fs'
import { execFile } from 'node:child_process'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { createLab, openLab } from '@guardband/lab'
import { createIdFactory } from '@guardband/model'
import { manyRunsRecords } from '@guardband/simlab'
import type { Bench } from './bench.ts'

const RUNS = 100_000
/** Megabytes that a step may take in memory: half of what a small machine has. */
const BAR_MB = 2048
/** An import checks, books and compares every record; a parse only reads them. */
const BAR_TIMES = 60

export const bench: Bench = {
  name: 'moving',
  what: `export, import and backup of ${RUNS.toLocaleString('en')} runs: seconds against a plain copy and a plain parse, peak memory`,
  async run(args, print) {
    const runs = Number(args[0] ?? RUNS)
    const root = mkdtempSync(join(tmpdir(), 'guardband-bench-'))
    try {
      const folder = join(root, 'lab')
      const sources = { now: () => Date.now(), newId: createIdFactory({ now: () => Date.now(), fillRandom }) }
      const made = createLab(folder, { name: 'Many runs', currency: '', simulated: true, records: manyRunsRecords(runs).records }, sources)
      const { counts } = made.info()
      const digest = made.moving.digest()
      await made.close()
      print(`${counts.runs} runs in ${counts.starts} starts; lab.db ${megabytes(join(folder, 'lab.db'))} MB`)
      const copied = timed(() => cpSync(folder, join(root, 'copy'), { recursive: true }))
      const steps: Record<string, Step> = {}
      for (const [name, step, from, to] of [
        ['export JSON', 'json', folder, join(root, 'x.json')], ['export CSV', 'csv', folder, join(root, 'x.csv.zip')], ['export archive', 'archive', folder, join(root, 'x.zip')],
        ['backup', 'backup', folder, join(root, 'backup')], ['parse', 'parse', join(root, 'x.json'), ''],
        ['import JSON', 'import', join(root, 'x.json'), join(root, 'from-json')], ['import CSV', 'import', join(root, 'x.csv.zip'), join(root, 'from-csv')], ['import archive', 'import', join(root, 'x.zip'), join(root, 'from-archive')],
      ] as const) {
        steps[name] = await inProcess(step, from, to)
        print(`${name.padEnd(15)} ${steps[name].seconds.toFixed(1).padStart(6)} s  ${steps[name].megabytes.toFixed(0).padStart(5)} MB at most`)
      }
      print(`plain copy      ${copied.toFixed(1).padStart(6)} s`)
      print(`files: JSON ${megabytes(join(root, 'x.json'))} MB, CSV ${megabytes(join(root, 'x.csv.zip'))} MB, archive ${megabytes(join(root, 'x.zip'))} MB`)
      const same = ['from-json', 'from-csv', 'from-archive', 'backup'].every((name) => digestOf(join(root, name), sources) === digest)
      const most = Math.max(...Object.values(steps).map((step) => step.megabytes))
      const value = steps['import JSON'].seconds
      const reference = steps['parse'].seconds
      return {
        value, reference, bar: `digests equal, no step above ${BAR_MB} MB, import of JSON at most ${BAR_TIMES} times the parse`,
        pass: same && most <= BAR_MB && value <= BAR_TIMES * reference, detail: { runs: counts.runs, starts: counts.starts, copied, steps, same },
      }
    } finally {
      rmSync(root, { recursive: true, force: true })
    }
  },
}

function fillRandom(bytes: Uint8Array<ArrayBuffer>): void {
  crypto.getRandomValues(bytes)
}

interface Step {
  readonly seconds: number
  readonly megabytes: number
}

async function inProcess(step: string, from: string, to: string): Promise<Step> {
  const { stdout } = await promisify(execFile)(process.execPath, ['--disable-warning=ExperimentalWarning', join(import.meta.dirname, 'moving-worker.ts'), step, from, to])
  // The worker beside this file says nothing else.
  return JSON.parse(stdout) as Step
}

function digestOf(folder: string, sources: Parameters<typeof openLab>[1]): string {
  const lab = openLab(folder, sources)
  const digest = lab.moving.digest()
  void lab.close()
  return digest
}

function timed(work: () => void): number {
  const began = performance.now()
  work()
  return (performance.now() - began) / 1000
}

function megabytes(file: string): number {
  return Math.round(statSync(file).size / 1024 ** 2)
}
