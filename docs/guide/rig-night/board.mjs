// A board in one file: "set" puts settings in force, "show" tells what is in force. Like many boards it takes what it can't do
// for no setting at all, starts at its defaults, and says nothing.
import { existsSync, readFileSync, writeFileSync } from 'node:fs'

const FILE = new URL('in-force.json', import.meta.url)
const DEFAULTS = { workers: 1, level: 6 }

const [verb, workers, level] = process.argv.slice(2)
if (verb === 'set') {
  const asked = { workers: Number(workers), level: Number(level) }
  const fits = [1, 2].includes(asked.workers) && Number.isInteger(asked.level) && asked.level >= 1 && asked.level <= 9
  writeFileSync(FILE, `${JSON.stringify(fits ? asked : DEFAULTS)}\n`)
} else if (verb === 'show') {
  process.stdout.write(existsSync(FILE) ? readFileSync(FILE, 'utf8') : `${JSON.stringify(DEFAULTS)}\n`)
} else {
  process.stderr.write(`board.mjs must be told "set WORKERS LEVEL" or "show"; got ${verb ?? 'nothing'}\n`)
  process.exitCode = 1
}
