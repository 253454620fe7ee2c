/** Finds what a file exports and no other file names: either nobody needs it, or it need not be exported. */
import { readFileSync, readdirSync } from 'node:fs'
import { join } from 'node:path'
import { parseSync } from 'vite'
import { sourceFiles } from '../edges/source-files.ts'

export interface UnusedExport {
  readonly file: string
  readonly name: string
  /** `none`: nothing at all names it. `tests`: only tests do. `own file`: it is used where it stands. */
  readonly usedBy: 'none' | 'tests' | 'own file'
}

/**
 * By name alone, over the whole tree: an export counts as used when a file outside its own, tests apart, has its name as a word of the program
 * (not in a comment, a text or a mere hand-on such as an index). So two equal names hide each other, and nothing in use is ever listed.
 */
export function findUnusedExports(root: string, paths: readonly string[]): readonly UnusedExport[] {
  const files = paths.map((file) => read(file, readFileSync(join(root, file), 'utf8')))
  const plain = files.filter(({ file }) => !isTest(file))
  const [byPlain, byAny] = [usersOf(plain), usersOf(files)]
  return plain.flatMap(({ file, exported, words }) =>
    exported.flatMap((name): UnusedExport[] => {
      const others = (users: ReadonlyMap<string, readonly string[]>) => (users.get(name) ?? []).some((user) => user !== file)
      if (others(byPlain)) return []
      return [{ file, name, usedBy: (words.get(name) ?? 0) > 1 ? 'own file' : others(byAny) ? 'tests' : 'none' }]
    }),
  )
}

/** All that a tree runs: its packages, its scripts, and what lies at its top. */
export function programFiles(root: string): readonly string[] {
  const project: { readonly workspaces?: readonly string[] } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))
  const top = readdirSync(root).filter((name) => /\.(?:ts|mjs)$/.test(name))
  return [...(project.workspaces ?? []), 'scripts'].flatMap((folder) => sourceFiles(root, folder)).concat(top)
}

interface Source {
  readonly file: string
  readonly exported: readonly string[]
  /** How often each identifier stands in it. */
  readonly words: ReadonlyMap<string, number>
}

/** Which files have a word in them. */
function usersOf(sources: readonly Source[]): ReadonlyMap<string, readonly string[]> {
  const users = new Map<string, string[]>()
  for (const { file, words } of sources) {
    for (const word of words.keys()) {
      const known = users.get(word)
      if (known === undefined) users.set(word, [file])
      else known.push(file)
    }
  }
  return users
}

function read(file: string, text: string): Source {
  const { program } = parseSync(file, text, { lang: file.endsWith('x') ? 'tsx' : 'ts', astType: 'ts', sourceType: 'module' })
  const words = new Map<string, number>()
  const exported = new Set<string>()
  const visit = (node: unknown): void => {
    if (Array.isArray(node)) return node.forEach(visit)
    if (!isNode(node)) return
    if (node.type === 'ExportNamedDeclaration') {
      for (const name of declaredIn(node['declaration'])) exported.add(name)
      // `export { a } from './b.ts'` hands on and uses nothing.
      if (isNode(node['source'])) return
    }
    if (node.type === 'Identifier' || node.type === 'JSXIdentifier') {
      const name = String(node['name'])
      words.set(name, (words.get(name) ?? 0) + 1)
    }
    for (const name of askedOfImport(node)) words.set(name, (words.get(name) ?? 0) + 1)
    Object.values(node).forEach(visit)
  }
  visit(program)
  return { file, exported: [...exported], words }
}

/** The texts beside a module that is loaded later: `load(() => import('./b.ts'), 'name')` asks it for that export. */
function askedOfImport(node: Node): readonly string[] {
  const given = node.type === 'CallExpression' && Array.isArray(node['arguments']) ? node['arguments'].filter(isNode) : []
  if (!given.some(({ type, body }) => type === 'ArrowFunctionExpression' && isNode(body) && body.type === 'ImportExpression')) return []
  return given.flatMap(({ type, value }) => (type === 'Literal' && typeof value === 'string' ? [value] : []))
}

function declaredIn(declaration: unknown): readonly string[] {
  if (!isNode(declaration)) return []
  const declared = declaration['declarations']
  const ids = Array.isArray(declared) ? declared.map((each: unknown) => (isNode(each) ? each['id'] : undefined)) : [declaration['id']]
  return ids.flatMap((id) => (isNode(id) && id.type === 'Identifier' ? [String(id['name'])] : []))
}

type Node = { readonly type: string } & Readonly<Record<string, unknown>>

function isNode(value: unknown): value is Node {
  return typeof value === 'object' && value !== null && 'type' in value && typeof value.type === 'string'
}

function isTest(file: string): boolean {
  return file.split('/').includes('test')
}
