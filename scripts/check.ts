/** `npm run check`: types, lint, import edges and dependencies, without running a test. */
import { dirname } from 'node:path'
import { fileURLToPath } from 'node:url'
import { describeStep, runSteps } from './checks/run-steps.ts'
import { staticSteps } from './checks/steps.ts'

const root = dirname(dirname(fileURLToPath(import.meta.url)))
const ends = await runSteps(staticSteps(root), { root, print: (text) => process.stdout.write(text), now: () => performance.now() })
for (const end of ends) console.log(describeStep(end))
process.exitCode = ends.every((end) => end.held) ? 0 : 1
