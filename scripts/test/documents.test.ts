/** Documents lead where they say, and each is listed. */
import { existsSync, readFileSync, readdirSync } from 'node:fs'
import { dirname, join, relative } from 'node:path'
import { expect, it } from 'vitest'

const root = join(import.meta.dirname, '..', '..')
const documents = ['README.md', 'CONTRIBUTING.md', ...readdirSync(join(root, 'docs'), { recursive: true, encoding: 'utf8' }).filter((name) => name.endsWith('.md')).map((name) => join('docs', name))]

it('every link between documents leads to a file', () => {
  const links = documents.flatMap((document) =>
    [...readFileSync(join(root, document), 'utf8').matchAll(/\]\((?!https?:)([^)#\s]+)[^)]*\)/g)].map(([, target]) => ({ document, target, file: join(root, dirname(document), target) })),
  )
  expect(links.length).toBeGreaterThan(20)
  expect(links.filter(({ file }) => !existsSync(file)).map(({ document, target }) => `${document}: ${target}`)).toEqual([])
})

it('docs/README.md lists every document in docs', () => {
  const index = readFileSync(join(root, 'docs', 'README.md'), 'utf8')
  const listed = documents.map((document) => relative('docs', document)).filter((name) => !name.startsWith('..') && name !== 'README.md')
  expect(listed.length).toBeGreaterThan(5)
  expect(listed.filter((name) => !index.includes(`(${name})`))).toEqual([])
})
