/**
 * `npm run bench -- NAME [arguments]` runs one bench; `list` names them all. The last line on stdout is one JSON
 * object {name, value, reference, ratio, bar, pass}; exit 1 where the bar is not reached, 2 where nothing could be run.
 */
import { readdirSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath, pathToFileURL } from 'node:url'
import type { Bench, BenchResult } from './bench.ts'

const folder = dirname(fileURLToPath(import.meta.url))
const ending = '.bench.ts'

const names = readdirSync(folder)
  .filter((file) => file.endsWith(ending))
  .map((file) => file.slice(0, -ending.length))
  .toSorted()
const [name, ...args] = process.argv.slice(2)

if (name === 'list') {
  const width = Math.max(0, ...names.map((each) => each.length))
  for (const each of names) console.log(`${each.padEnd(width)}  ${(await load(each)).what}`)
} else if (name === undefined || !names.includes(name)) {
  console.error(`bench must be list or one of ${names.join(', ')}; got ${name ?? 'nothing'}`)
  process.exitCode = 2
} else {
  const result = await (await load(name)).run(args, (line) => console.log(line))
  console.log(JSON.stringify(lastLine(name, result)))
  process.exitCode = result.pass ? 0 : 1
}

async function load(each: string): Promise<Bench> {
  const file = each + ending
  const loaded: unknown = await import(pathToFileURL(join(folder, file)).href)
  const bench = typeof loaded === 'object' && loaded !== null && 'bench' in loaded ? loaded.bench : undefined
  if (!isBench(bench) || bench.name !== each) {
    throw new Error(`bench/${file} must export bench = { name: '${each}', what, run }; got ${typeof bench}`)
  }
  return bench
}

function isBench(value: unknown): value is Bench {
  if (typeof value !== 'object' || value === null) return false
  if (!('name' in value && 'what' in value && 'run' in value)) return false
  return typeof value.name === 'string' && typeof value.what === 'string' && typeof value.run === 'function'
}

/** A figure that is not a number would vanish from JSON and could not have reached a bar. */
function lastLine(benchName: string, { value, reference, ratio, bar, pass, detail }: BenchResult): object {
  const shown = { value, reference, ratio: ratio ?? value / reference }
  for (const [key, figure] of Object.entries(shown)) {
    if (!Number.isFinite(figure)) throw new Error(`${key} of ${benchName} must be a finite number; got ${figure}`)
  }
  return { name: benchName, ...shown, bar, pass, ...(detail === undefined ? {} : { detail }) }
}
