/** Reads every import out of a source text with a real parser: static, lazy, type-only, and files named by URL. */
import { parseSync } from 'vite'

export type Import = {
  readonly line: number
  /** What is asked for; undefined where it is known only when the program runs. */
  readonly specifier: string | undefined
  /** `load` runs when the file is loaded, `lazy` when reached, `type` is gone at run time, `url` names a file. */
  readonly kind: 'load' | 'lazy' | 'type' | 'url'
}

export type SourceImports = { readonly imports: readonly Import[]; readonly errors: readonly string[] }

export function readImports(path: string, text: string): SourceImports {
  const parsed = parseSync(path, text, { lang: languageOf(path), astType: 'ts', sourceType: 'module' })
  const found: Import[] = []
  visit(parsed.program, (node) => {
    const entry = importIn(node)
    if (entry !== undefined) found.push({ ...entry, line: text.slice(0, node.start).split('\n').length })
  })
  return { imports: found, errors: parsed.errors.map((error) => error.message) }
}

/** What all nodes of the tree have in common; children are found by looking at every field. */
type Node = { readonly type: string; readonly start: number } & Readonly<Record<string, unknown>>

function visit(node: unknown, see: (node: Node) => void): void {
  if (Array.isArray(node)) {
    for (const child of node) visit(child, see)
  } else if (isNode(node)) {
    see(node)
    for (const child of Object.values(node)) visit(child, see)
  }
}

function importIn(node: Node): Omit<Import, 'line'> | undefined {
  switch (node.type) {
    case 'ImportDeclaration':
      return { specifier: textOf(node['source']), kind: node['importKind'] === 'type' ? 'type' : 'load' }
    case 'ExportAllDeclaration':
    case 'ExportNamedDeclaration':
      if (!isNode(node['source'])) return undefined
      return { specifier: textOf(node['source']), kind: node['exportKind'] === 'type' ? 'type' : 'load' }
    case 'ImportExpression':
      return { specifier: textOf(node['source']), kind: 'lazy' }
    case 'TSImportType':
      return { specifier: textOf(node['source']), kind: 'type' }
    case 'TSExternalModuleReference':
      return { specifier: textOf(node['expression']), kind: 'load' }
    case 'CallExpression':
      return isResolver(node['callee']) ? { specifier: firstText(node), kind: 'lazy' } : undefined
    case 'NewExpression': {
      const file = isNamed(node['callee'], 'URL') ? firstText(node) : undefined
      return file !== undefined && /^\.{1,2}\/.*\.[cm]?[jt]sx?$/.test(file) ? { specifier: file, kind: 'url' } : undefined
    }
    default:
      return undefined
  }
}

/** `require(x)`, `require.resolve(x)` and `import.meta.resolve(x)`. */
function isResolver(callee: unknown): boolean {
  if (isNamed(callee, 'require')) return true
  if (!isNode(callee) || callee.type !== 'MemberExpression' || !isNamed(callee['property'], 'resolve')) return false
  const object = callee['object']
  return isNamed(object, 'require') || (isNode(object) && object.type === 'MetaProperty')
}

function firstText(node: Node): string | undefined {
  const given = node['arguments']
  return Array.isArray(given) ? textOf(given[0]) : undefined
}

function textOf(node: unknown): string | undefined {
  if (!isNode(node)) return undefined
  if (node.type === 'Literal' && typeof node['value'] === 'string') return node['value']
  const parts = node['quasis']
  if (node.type === 'TemplateLiteral' && Array.isArray(parts) && parts.length === 1) {
    const value: unknown = parts[0]?.value?.cooked
    return typeof value === 'string' ? value : undefined
  }
  return undefined
}

function isNamed(node: unknown, name: string): boolean {
  return isNode(node) && node.type === 'Identifier' && node['name'] === name
}

function isNode(value: unknown): value is Node {
  return typeof value === 'object' && value !== null && 'type' in value && typeof value.type === 'string' && 'start' in value
}

function languageOf(path: string): 'ts' | 'tsx' | 'dts' | 'js' {
  if (path.endsWith('.d.ts')) return 'dts'
  if (path.endsWith('.tsx')) return 'tsx'
  return /\.[cm]?ts$/.test(path) ? 'ts' : 'js'
}
