/** Lists exports that nothing outside their file needs; exit 1 where there are any that nothing at all uses, tests included. */
import { dirname } from 'node:path'
import { fileURLToPath } from 'node:url'
import { findUnusedExports, programFiles } from './checks/check-exports.ts'

const root = dirname(dirname(fileURLToPath(import.meta.url)))
const files = programFiles(root)
const found = findUnusedExports(root, files)
const dead = found.filter(({ usedBy }) => usedBy === 'none')
for (const { file, name } of found.filter(({ usedBy }) => usedBy === 'tests')) console.log(`${file}: ${name} is used by tests alone`)
for (const { file, name } of dead) console.log(`${file}: ${name} must be used by something, or go; got nothing that does`)
console.log(`${files.length} files; ${found.filter(({ usedBy }) => usedBy === 'own file').length} exports are used in their own file alone; ${dead.length} by nothing.`)
process.exitCode = dead.length === 0 && files.length > 0 ? 0 : 1
