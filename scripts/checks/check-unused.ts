/** Finds what a package declares as a dependency and no file of it uses: it would be installed, kept current and shipped for nothing. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { readImports } from '../edges/read-imports.ts'
import { sourceFiles, styleFiles } from '../edges/source-files.ts'

/** One sentence a dependency. Tests count, as they need it declared; so do style sheets and what the package's own npm scripts run. */
export function checkUnused(root: string): readonly string[] {
  const { workspaces } = readProject(join(root, 'package.json'))
  return workspaces.flatMap((name) => {
    const { dependencies, scripts } = readProject(join(root, name, 'package.json'))
    const used = new Set([
      ...sourceFiles(root, name).flatMap((file) => readImports(file, readFileSync(join(root, file), 'utf8')).imports.map(({ specifier }) => packageOf(specifier ?? ''))),
      ...styleFiles(root, name).flatMap((file) => importsOfStyle(readFileSync(join(root, file), 'utf8')).map(packageOf)),
      ...dependencies.filter((dependency) => scripts.some((script) => script.split(/\s+/).some((word) => commandsOf(root, dependency).has(word)))),
    ])
    return dependencies.filter((dependency) => !used.has(dependency)).map((dependency) => `${name}/package.json: ${dependency} must be imported by a file of ${name}, or go; got none that does`)
  })
}

/** `react-dom/client` is of `react-dom`, `@scope/name/file` of `@scope/name`. */
function packageOf(specifier: string): string {
  return specifier.split('/', specifier.startsWith('@') ? 2 : 1).join('/')
}

function importsOfStyle(text: string): readonly string[] {
  const plain = text.replaceAll(/\/\*.*?\*\//gs, '')
  return [...plain.matchAll(/(?:@import\s+(?:url\()?|url\()\s*["']?([^"')\s;]+)/g)].map(([, specifier = '']) => specifier)
}

/** Names under which an installed package's programs can be run. */
function commandsOf(root: string, dependency: string): ReadonlySet<string> {
  const { bin } = readProject(join(root, 'node_modules', dependency, 'package.json'))
  return new Set(typeof bin === 'string' ? [dependency.replace(/^@[^/]+\//, '')] : Object.keys(fieldsOf(bin)))
}

interface Project {
  readonly workspaces: readonly string[]
  readonly dependencies: readonly string[]
  readonly scripts: readonly string[]
  readonly bin: unknown
}

function readProject(path: string): Project {
  const read = fieldsOf(JSON.parse(readFileSync(path, 'utf8')))
  const { workspaces } = read
  return {
    workspaces: Array.isArray(workspaces) ? workspaces.map(String) : [],
    dependencies: Object.keys(fieldsOf(read['dependencies'])),
    scripts: Object.values(fieldsOf(read['scripts'])).map(String),
    bin: read['bin'],
  }
}

function fieldsOf(value: unknown): Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null ? Object.fromEntries(Object.entries(value)) : {}
}
