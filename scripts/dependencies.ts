/** Says whether what the tree depends on may be shipped with it, comes from the npm registry alone and is used by who declares it; exit 1 where not. */
import { readFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { checkDependencies } from './checks/check-dependencies.ts'
import { checkUnused } from './checks/check-unused.ts'

const root = dirname(dirname(fileURLToPath(import.meta.url)))
const { production, problems: unfit } = checkDependencies(readFileSync(join(root, 'package-lock.json'), 'utf8'))
const problems = [...unfit, ...checkUnused(root)]
for (const problem of problems) console.log(problem)
console.log(`${production} packages are shipped or loaded; ${problems.length === 0 ? 'all may be' : `${problems.length} problems`}.`)
process.exitCode = problems.length === 0 ? 0 : 1
