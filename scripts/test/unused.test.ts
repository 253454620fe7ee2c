/** The check for declared and unused dependencies, in trees planted for it. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { checkUnused } from '../checks/check-unused.ts'

let root = ''
beforeEach(() => {
  root = mkdtempSync(join(tmpdir(), 'guardband-unused-'))
  write('package.json', JSON.stringify({ workspaces: ['page'] }))
  write('page/package.json', JSON.stringify({ dependencies: { '@plain/one': '1.0.0' } }))
  write('node_modules/@plain/one/package.json', JSON.stringify({ name: '@plain/one', bin: { oner: './cli.js' } }))
})
afterEach(() => rmSync(root, { recursive: true }))

test('a dependency that no file imports is named with the package that declares it', () => {
  write('page/main.ts', "import '@plain/one-more'\n// import '@plain/one'\nexport const a = '@plain/one'")
  write('page/main.css', '/* @import "@plain/one"; */ a { color: red }')
  write('page/dist/main.js', "import '@plain/one'")
  expect(checkUnused(root)).toEqual(['page/package.json: @plain/one must be imported by a file of page, or go; got none that does'])
})

test.each([
  { what: 'an import', path: 'page/main.ts', text: "import { one } from '@plain/one/deep'\nexport const a = one" },
  { what: 'a type', path: 'page/main.ts', text: "import type { One } from '@plain/one'\nexport type A = One" },
  { what: 'a lazy import', path: 'page/main.tsx', text: "export const a = () => import('@plain/one')" },
  { what: 'a resolved file', path: 'page/main.ts', text: "export const a = import.meta.resolve('@plain/one/files/a.woff2')" },
  { what: 'a test', path: 'page/test/a.test.ts', text: "import '@plain/one'" },
  { what: 'an import in a style sheet', path: 'page/main.css', text: "@import '@plain/one/index.css';" },
  { what: 'a file in a style sheet', path: 'page/main.css', text: 'a { src: url("@plain/one/a.woff2") }' },
  { what: "a program run by the package's own script", path: 'page/package.json', text: JSON.stringify({ dependencies: { '@plain/one': '1.0.0' }, scripts: { make: 'oner --all' } }) },
])('$what uses a dependency', ({ path, text }) => {
  write(path, text)
  expect(checkUnused(root)).toEqual([])
})

function write(path: string, text: string): void {
  const whole = join(root, path)
  mkdirSync(dirname(whole), { recursive: true })
  writeFileSync(whole, text)
}
