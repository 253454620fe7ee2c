/** The check for unused exports, in trees planted for it. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { findUnusedExports, programFiles } from '../checks/check-exports.ts'

let root = ''
beforeEach(() => {
  root = mkdtempSync(join(tmpdir(), 'guardband-exports-'))
  write('package.json', JSON.stringify({ workspaces: ['one', 'two'] }))
  write('one/index.ts', "export { plain } from './plain.ts'\nexport * from './plain.ts'")
  write('one/plain.ts', 'export const plain = 1')
})
afterEach(() => rmSync(root, { recursive: true }))

test('an export that an index hands on and nobody takes is used by none', () => {
  write('two/a.ts', "// plain\nexport default 'plain'")
  expect(found()).toEqual([{ file: 'one/plain.ts', name: 'plain', usedBy: 'none' }])
})

test('an export that tests alone take is told apart, and so is one that its own file needs', () => {
  write('one/test/plain.test.ts', "import { plain } from '../plain.ts'\nplain")
  write('one/own.ts', 'export type Own = 1\nexport default (own: Own) => own')
  expect(found()).toEqual([
    { file: 'one/own.ts', name: 'Own', usedBy: 'own file' },
    { file: 'one/plain.ts', name: 'plain', usedBy: 'tests' },
  ])
})

test.each([
  { what: 'another package', path: 'two/a.ts', text: "import { plain } from '@guardband/one'\nplain" },
  { what: 'another name for it', path: 'two/a.ts', text: "import { plain as other } from '@guardband/one'\nother" },
  { what: 'a member of the whole package', path: 'two/a.ts', text: "import * as one from '@guardband/one'\none.plain" },
  { what: 'a type', path: 'two/a.ts', text: "export default {} as typeof import('@guardband/one').plain" },
  { what: 'an element of a page', path: 'two/a.tsx', text: "import { plain } from '@guardband/one'\nexport default () => <plain />" },
  { what: 'a page that is loaded later', path: 'two/a.ts', text: "declare const load: (from: () => Promise<unknown>, name: string) => void\nload(() => import('@guardband/one'), 'plain')" },
  { what: 'a program at the top of the tree', path: 'launch.mjs', text: "import { plain } from './one/plain.ts'\nplain" },
])('$what uses an export', ({ path, text }) => {
  write(path, text)
  expect(found()).toEqual([])
})

function found(): ReturnType<typeof findUnusedExports> {
  return findUnusedExports(root, programFiles(root))
}

function write(path: string, text: string): void {
  const whole = join(root, path)
  mkdirSync(dirname(whole), { recursive: true })
  writeFileSync(whole, text)
}
