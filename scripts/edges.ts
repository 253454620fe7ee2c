/** Prints what every package imports and whether that keeps to the house plan; exit 1 where it does not. */
import { dirname } from 'node:path'
import { fileURLToPath } from 'node:url'
import { checkEdges } from './edges/check-edges.ts'

const report = checkEdges(dirname(dirname(fileURLToPath(import.meta.url))))
for (const { name, files, imports } of report.packages) {
  console.log(`${name.padEnd(10)} ${String(files).padStart(4)} files   ${imports.length === 0 ? '-' : imports.join(', ')}`)
}
for (const problem of report.problems) console.log(problem)
console.log(report.problems.length === 0 ? 'The house plan holds.' : `${report.problems.length} imports or packages break the house plan.`)
process.exitCode = report.problems.length === 0 ? 0 : 1
