/** The import-edge check finds what breaks the house plan, in trees planted for it. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { checkEdges } from '../edges/check-edges.ts'

/** A small tree that keeps to the plan: every package has a file, and there are edges. */
const sound: Readonly<Record<string, string>> = {
  'model/index.ts': 'export type Run = { readonly id: string }',
  'engine/t.ts': 'export const t = 1',
  'simlab/index.ts': "import type { Run } from '@guardband/model'\nexport const runs: Run[] = []",
  'questions/gain/compute.ts': "import { t } from '@guardband/engine/t'\nexport const gain = t",
  'questions/gain/ask.ts': "import type { Run } from '@guardband/model'\nexport const ask = (run: Run) => run.id",
  'lab/index.ts': "import Database from 'better-sqlite3'\nexport const open = () => new Database('')",
  'web/app.tsx': "import { ask } from '@guardband/questions/gain/ask'\nexport const App = () => <p>{String(ask)}</p>",
  'cli/main.ts': "export const lab = async () => (await import('@guardband/lab')).open()",
}

const declared: Readonly<Record<string, readonly string[]>> = {
  model: [],
  engine: [],
  simlab: ['@guardband/model', '@guardband/engine'],
  questions: ['@guardband/model', '@guardband/engine'],
  lab: ['@guardband/model', 'better-sqlite3'],
  web: ['@guardband/model', '@guardband/questions', '@guardband/lab'],
  cli: ['@guardband/model', '@guardband/lab'],
}

let root = ''
beforeEach(() => {
  root = mkdtempSync(join(tmpdir(), 'guardband-edges-'))
  const names = Object.keys(declared)
  write('package.json', JSON.stringify({ workspaces: names, devDependencies: { vitest: '1.0.0' } }))
  for (const name of names) {
    const dependencies = Object.fromEntries((declared[name] ?? []).map((entry) => [entry, '1.0.0']))
    write(`${name}/package.json`, JSON.stringify({ name: `@guardband/${name}`, dependencies }))
  }
  for (const [path, text] of Object.entries(sound)) write(path, text)
})
afterEach(() => rmSync(root, { recursive: true }))

test('a tree that keeps to the plan has no problem, and every package and edge in it was seen', () => {
  const report = checkEdges(root)
  expect(report.problems).toEqual([])
  expect(report.packages.map(({ name, imports }) => [name, imports])).toEqual([
    ['model', []],
    ['engine', []],
    ['simlab', ['model']],
    ['questions', ['engine', 'model']],
    ['lab', []],
    ['web', ['questions']],
    ['cli', ['lab']],
  ])
})

const forbidden: readonly { readonly what: string; readonly path: string; readonly text: string; readonly says: RegExp }[] = [
  {
    what: 'a static import',
    path: 'simlab/noise.ts',
    text: "\nimport { t } from '@guardband/engine/t'\nexport const n = t",
    says: /^simlab\/noise\.ts:2: simlab must import only model; got engine$/,
  },
  { what: 'a type', path: 'engine/a.ts', text: "import type { Run } from '@guardband/model'\nexport type A = Run", says: /^engine\/a\.ts:1: .*got model$/ },
  { what: 'a type in line', path: 'engine/a.ts', text: "export type A = import('@guardband/model').Run", says: /got model$/ },
  { what: 'a re-export', path: 'engine/a.ts', text: "export * from '@guardband/model'", says: /got model$/ },
  { what: 'a lazy import', path: 'engine/a.ts', text: "export const a = () => import('@guardband/model')", says: /got model$/ },
  { what: 'a resolved name', path: 'engine/a.ts', text: "export const a = import.meta.resolve('@guardband/model')", says: /got model$/ },
  { what: 'a test', path: 'engine/test/a.test.ts', text: "import '@guardband/model'", says: /got model$/ },
  { what: 'a path into another package', path: 'engine/a.ts', text: "import '../model/index.ts'", says: /leaves the package; import it as @guardband\/model/ },
  { what: 'a worker in another package', path: 'engine/a.ts', text: "export const a = new URL('../model/index.ts', import.meta.url)", says: /leaves the package/ },
  { what: 'a name made at run time', path: 'engine/a.ts', text: 'export const a = (name: string) => import(name)', says: /known only at run time/ },
  { what: 'a package nobody declared', path: 'engine/a.ts', text: "import 'left-field'", says: /left-field must be named in engine\/package\.json/ },
  { what: 'a workspace nobody declared', path: 'cli/a.ts', text: "import '@guardband/engine/t'", says: /@guardband\/engine must be named in cli\/package\.json/ },
  { what: 'a computation in the page', path: 'web/a.ts', text: "import type { gain } from '@guardband/questions/gain/compute'\nexport type A = typeof gain", says: /web may import of questions only ask, tell.*; got gain\/compute/ },
  { what: 'every question in the page', path: 'web/a.ts', text: "import type {} from '@guardband/questions'", says: /got the whole package/ },
  { what: 'a package the page may not have', path: 'web/a.ts', text: "import '@guardband/lab'", says: /web must import only model, questions; got lab/ },
  { what: 'the lab at the start of the command', path: 'cli/main.ts', text: "import '@guardband/lab'", says: /^cli\/main\.ts -> lab\/index\.ts: a rig starts without loading the lab/ },
  { what: 'a source that cannot be read', path: 'engine/a.ts', text: 'export const = 1', says: /^engine\/a\.ts: could not be read/ },
]

test.each(forbidden)('$what that breaks the plan is reported with its place ($path)', ({ path, text, says }) => {
  write(path, text)
  expect(checkEdges(root).problems).toContainEqual(expect.stringMatching(says))
})

test('the lab behind another file of the command is found along the chain', () => {
  write('cli/main.ts', "import './rows.ts'")
  write('cli/rows.ts', "import '@guardband/lab'")
  expect(checkEdges(root).problems).toContainEqual(expect.stringMatching(/^cli\/main\.ts -> cli\/rows\.ts -> lab\/index\.ts: /))
})

test('a computation behind a file the page may import is found along the chain', () => {
  write('questions/gain/ask.ts', "import './compute.ts'")
  expect(checkEdges(root).problems).toEqual([
    expect.stringMatching(/^web\/app\.tsx -> questions\/gain\/ask\.ts -> questions\/gain\/compute\.ts: the page computes nothing/),
  ])
})

test('a lazy import or a type does not load the lab', () => {
  write('cli/main.ts', "import type { open } from '@guardband/lab'\nexport type Open = typeof open\nexport const lab = () => import('@guardband/lab')")
  expect(checkEdges(root).problems).toEqual([])
})

test('words in comments and texts are not imports', () => {
  write('engine/a.ts', "// import '@guardband/model'\nexport const a = \"import '@guardband/model'\"")
  expect(checkEdges(root).problems).toEqual([])
})

test('a package without files is a problem, as nothing of it was checked', () => {
  rmSync(join(root, 'engine', 't.ts'))
  expect(checkEdges(root).problems).toContainEqual('engine: has no source file, so nothing of it was checked')
})

test('a tree without a single edge is a problem, as the check saw nothing', () => {
  for (const path of Object.keys(sound)) write(path, 'export {}')
  expect(checkEdges(root).problems).toEqual(['no package imports another: the check saw nothing'])
})

test('a workspace that the plan does not know is a problem', () => {
  write('package.json', JSON.stringify({ workspaces: [...Object.keys(declared), 'extra'] }))
  write('extra/package.json', '{}')
  write('extra/a.ts', 'export {}')
  expect(checkEdges(root).problems).toContainEqual(expect.stringMatching(/^extra: is a workspace that the house plan does not know/))
})

function write(path: string, text: string): void {
  const whole = join(root, path)
  mkdirSync(dirname(whole), { recursive: true })
  writeFileSync(whole, text)
}
