/** Reads what vitest wrote about a run and counts it. */
import { sep } from 'node:path'

export type Counts = { readonly passed: number; readonly failed: number; readonly skipped: number }

export type TestResults = {
  readonly total: Counts
  readonly byPackage: readonly (Counts & { readonly name: string; readonly files: number })[]
}

/**
 * Counts every test in vitest's JSON. A file that failed without a failed test in it (it could not be loaded, or a
 * hook broke) counts as one failure, since its tests never ran.
 */
export function countResults(json: string, root: string): TestResults {
  const byPackage = new Map<string, Counts & { readonly files: number }>()
  for (const file of filesIn(JSON.parse(json))) {
    const name = relativeTo(root, file.name).split('/')[0] ?? file.name
    const before = byPackage.get(name) ?? { passed: 0, failed: 0, skipped: 0, files: 0 }
    const counted = countFile(file)
    byPackage.set(name, { ...add(before, counted), files: before.files + 1 })
  }
  const rows = [...byPackage].map(([name, counts]) => ({ name, ...counts })).toSorted((a, b) => (a.name < b.name ? -1 : 1))
  return { total: rows.reduce(add, { passed: 0, failed: 0, skipped: 0 }), byPackage: rows }
}

/** The closing line: alone on its line, computed from what ran. */
export function closingLine({ passed, failed, skipped }: Counts): string {
  return `${passed} passed, ${failed} failed${skipped > 0 ? `, ${skipped} skipped` : ''}`
}

type TestFile = { readonly name: string; readonly status: string; readonly tests: readonly string[] }

function countFile({ status, tests }: TestFile): Counts {
  const passed = tests.filter((test) => test === 'passed').length
  const failed = tests.filter((test) => test === 'failed').length
  const brokenFile = status === 'failed' && failed === 0 ? 1 : 0
  return { passed, failed: failed + brokenFile, skipped: tests.length - passed - failed }
}

function filesIn(results: unknown): readonly TestFile[] {
  const files = fieldOf(results, 'testResults')
  if (!Array.isArray(files)) throw new Error('test results must hold testResults, a list; got something else')
  return files.map((file: unknown) => {
    const tests = fieldOf(file, 'assertionResults')
    return {
      name: String(fieldOf(file, 'name')),
      status: String(fieldOf(file, 'status')),
      tests: Array.isArray(tests) ? tests.map((test: unknown) => String(fieldOf(test, 'status'))) : [],
    }
  })
}

function fieldOf(value: unknown, name: string): unknown {
  return typeof value === 'object' && value !== null ? Object.entries(value).find(([key]) => key === name)?.[1] : undefined
}

function relativeTo(root: string, path: string): string {
  const local = path.split(sep).join('/')
  const home = `${root.split(sep).join('/')}/`
  return local.startsWith(home) ? local.slice(home.length) : local
}

function add(one: Counts, other: Counts): Counts {
  return { passed: one.passed + other.passed, failed: one.failed + other.failed, skipped: one.skipped + other.skipped }
}
