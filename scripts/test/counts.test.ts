/** What the last line of a test run counts, and which dependencies are refused. */
import { expect, test } from 'vitest'
import { checkDependencies } from '../checks/check-dependencies.ts'
import { closingLine, countResults } from '../checks/test-results.ts'

const file = (name: string, status: string, tests: readonly string[]) => ({
  name: `/tree/${name}`,
  status,
  assertionResults: tests.map((each) => ({ status: each })),
})

test('tests are counted by state and by package', () => {
  const results = countResults(
    JSON.stringify({
      testResults: [
        file('model/test/a.test.ts', 'passed', ['passed', 'passed', 'pending']),
        file('model/test/b.test.ts', 'failed', ['passed', 'failed']),
        file('lab/test/c.test.ts', 'passed', ['passed', 'skipped', 'todo']),
      ],
    }),
    '/tree',
  )
  expect(results.total).toEqual({ passed: 4, failed: 1, skipped: 3 })
  expect(results.byPackage).toEqual([
    { name: 'lab', passed: 1, failed: 0, skipped: 2, files: 1 },
    { name: 'model', passed: 3, failed: 1, skipped: 1, files: 2 },
  ])
  expect(closingLine(results.total)).toBe('4 passed, 1 failed, 3 skipped')
})

test('a file that could not be loaded counts as a failure though no test in it failed', () => {
  const results = countResults(JSON.stringify({ testResults: [file('model/test/a.test.ts', 'failed', [])] }), '/tree')
  expect(closingLine(results.total)).toBe('0 passed, 1 failed')
})

const sound = { version: '1.0.0', integrity: 'sha512-x', license: 'MIT' }
const lock = (entry: object) =>
  JSON.stringify({ packages: { '': {}, 'node_modules/sound': sound, 'node_modules/thing': { ...sound, license: undefined, ...entry } } })

test.each([{ license: 'MIT' }, { license: '(MIT OR GPL-3.0)' }, { license: 'MIT AND ISC' }, { license: 'GPL-3.0', dev: true }])(
  'a dependency with %j is accepted',
  (entry) => {
    expect(checkDependencies(lock(entry)).problems).toEqual([])
  },
)

test.each([{ license: 'GPL-3.0' }, { license: 'MIT AND GPL-3.0' }, {}, { license: 'MIT', resolved: 'git+ssh://host/thing.git' }, { license: 'MIT', integrity: undefined }])(
  'a dependency with %j is refused',
  (entry) => {
    expect(checkDependencies(lock(entry)).problems).toEqual([expect.stringMatching(/^node_modules\/thing: /)])
  },
)

test('a lock file that names no package is refused, as nothing was checked', () => {
  expect(checkDependencies('{}').problems).toEqual([expect.stringMatching(/got none$/)])
})
