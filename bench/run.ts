/** `npm run bench -- NAME [arguments]` runs one bench; `npm run bench -- list` names them all. */
import { dirname } from 'node:path'
import { fileURLToPath } from 'node:url'
import { runBench } from './runner.ts'

process.exitCode = await runBench({
  folder: dirname(fileURLToPath(import.meta.url)),
  args: process.argv.slice(2),
  print: (line) => console.log(line),
  complain: (line) => console.error(line),
})
