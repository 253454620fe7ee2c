// Reads back what is in force: prints the number of threads that the workloads will find.
import { readFileSync } from 'node:fs'

const { threads } = JSON.parse(readFileSync(new URL('threads.json', import.meta.url), 'utf8'))
process.stdout.write(`threads: ${threads}\n`)
