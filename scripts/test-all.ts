/**
 * `npm test`: the checks that read the sources, then every test; a table and a closing line at the end.
 * Arguments are handed to vitest, so `npm test -- model/` runs that package's tests after the checks.
 */
import { spawn } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { findChromium } from '../bench/chromium.ts'
import { describeStep, runSteps } from './checks/run-steps.ts'
import { staticSteps } from './checks/steps.ts'
import { closingLine, countResults, type TestResults } from './checks/test-results.ts'

const root = dirname(dirname(fileURLToPath(import.meta.url)))
const chromium = findChromium(process.env)
if (chromium === undefined) console.log('No Chromium found (install it, or set CHROMIUM to its path): browser tests are skipped.')

const ends = await runSteps([...staticSteps(root), { name: 'page build', args: ['scripts/build-page.ts'] }], { root, print: (text) => process.stdout.write(text), now: () => performance.now() })
for (const end of ends) console.log(describeStep(end))

const tests = await runTests(process.argv.slice(2))
console.log('')
for (const end of ends) console.log(describeStep(end))
for (const { name, files, ...counts } of tests.results.byPackage) {
  console.log(`${`tests of ${name}`.padEnd(20)} ${closingLine(counts)} in ${files} ${files === 1 ? 'file' : 'files'}`)
}
if (chromium === undefined) console.log('browser tests        skipped: no Chromium found')

// A failed check counts as one failure, and so does a run that broke without a failed test: 0 failed means that all is well.
const brokenChecks = ends.filter((end) => !end.held).length
const { passed, failed, skipped } = tests.results.total
const brokenRun = failed === 0 && (tests.code !== 0 || passed === 0) ? 1 : 0
if (brokenRun === 1) console.log(passed === 0 ? 'no test ran' : `vitest ended with ${tests.code} though no test failed`)
const total = { passed, failed: failed + brokenChecks + brokenRun, skipped }
console.log(`\n${closingLine(total)}`)
process.exitCode = total.failed === 0 ? 0 : 1

async function runTests(filters: readonly string[]): Promise<{ readonly code: number; readonly results: TestResults }> {
  const folder = mkdtempSync(join(tmpdir(), 'guardband-tests-'))
  const file = join(folder, 'results.json')
  try {
    const args = ['node_modules/vitest/vitest.mjs', 'run', '--reporter=default', '--reporter=json', `--outputFile.json=${file}`, ...filters]
    const code = await new Promise<number>((resolve, reject) => {
      const child = spawn(process.execPath, args, { cwd: root, stdio: 'inherit' })
      child.on('error', reject)
      child.on('close', (ended) => resolve(ended ?? 1))
    })
    return { code, results: countResults(readFileSync(file, 'utf8'), root) }
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
