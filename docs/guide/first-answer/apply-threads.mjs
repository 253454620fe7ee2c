// Puts the tune in force: writes how many worker threads the workloads may use into threads.json beside this file.
import { writeFileSync } from 'node:fs'

const threads = Number(process.argv[2])
if (!Number.isInteger(threads) || threads < 1 || threads > 64) {
  process.stderr.write(`threads must be a whole number from 1 to 64; got ${process.argv[2] ?? 'nothing'}\n`)
  process.exit(1)
}
writeFileSync(new URL('threads.json', import.meta.url), `${JSON.stringify({ threads })}\n`)
