/** Says whether what the tree depends on may be shipped with it and comes from the npm registry alone; exit 1 where not. */
import { readFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { checkDependencies } from './checks/check-dependencies.ts'

const root = dirname(dirname(fileURLToPath(import.meta.url)))
const { production, problems } = checkDependencies(readFileSync(join(root, 'package-lock.json'), 'utf8'))
for (const problem of problems) console.log(problem)
console.log(`${production} packages are shipped or loaded; ${problems.length === 0 ? 'all may be' : `${problems.length} problems`}.`)
process.exitCode = problems.length === 0 ? 0 : 1
