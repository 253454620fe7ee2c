/**
 * Finds a bench by name and runs it. The last line printed is one JSON object {name, value, reference, ratio, bar,
 * pass}, with `detail` where the bench has more to say.
 */
import { readdirSync } from 'node:fs'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'
import type { Bench, BenchResult } from './bench.ts'

export type BenchRequest = {
  readonly folder: string
  /** The bench's name, or `list`; what follows is for the bench. */
  readonly args: readonly string[]
  readonly print: (line: string) => void
  readonly complain: (line: string) => void
}

const ending = '.bench.ts'

/** Resolves to an exit code: 0 the bar is reached, 1 it is not, 2 there is no such bench. */
export async function runBench({ folder, args, print, complain }: BenchRequest): Promise<number> {
  const names = readdirSync(folder)
    .filter((file) => file.endsWith(ending))
    .map((file) => file.slice(0, -ending.length))
    .toSorted()
  const [name, ...rest] = args
  if (name === 'list') {
    const width = Math.max(0, ...names.map((each) => each.length))
    for (const each of names) print(`${each.padEnd(width)}  ${(await load(folder, each)).what}`)
    return 0
  }
  if (name === undefined || !names.includes(name)) {
    complain(`bench must be list or one of ${names.join(', ')}; got ${name ?? 'nothing'}`)
    return 2
  }
  const result = await (await load(folder, name)).run(rest, print)
  print(JSON.stringify(lastLine(name, result)))
  return result.pass ? 0 : 1
}

async function load(folder: string, name: string): Promise<Bench> {
  const file = name + ending
  const loaded: unknown = await import(pathToFileURL(join(folder, file)).href)
  const bench = typeof loaded === 'object' && loaded !== null && 'bench' in loaded ? loaded.bench : undefined
  if (isBench(bench) && bench.name === name) return bench
  throw new Error(`bench/${file} must export bench = { name: '${name}', what, run }; got ${describe(bench)}`)
}

function describe(bench: unknown): string {
  return isBench(bench) ? `the name '${bench.name}'` : `${typeof bench} without these`
}

function isBench(value: unknown): value is Bench {
  if (typeof value !== 'object' || value === null) return false
  if (!('name' in value && 'what' in value && 'run' in value)) return false
  return typeof value.name === 'string' && typeof value.what === 'string' && typeof value.run === 'function'
}

/** A figure that is not a number would turn into null in JSON, and could not have reached a bar. */
function lastLine(name: string, { value, reference, ratio, bar, pass, detail }: BenchResult): object {
  const figures = { value, reference, ratio: ratio ?? value / reference }
  for (const [key, figure] of Object.entries(figures)) {
    if (!Number.isFinite(figure)) throw new Error(`${key} of ${name} must be a finite number; got ${figure}`)
  }
  return { name, ...figures, bar, pass, ...(detail === undefined ? {} : { detail }) }
}
