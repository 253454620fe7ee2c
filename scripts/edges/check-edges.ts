/** Holds every import of every package against the house plan. */
import { existsSync, readFileSync } from 'node:fs'
import { dirname, join, posix } from 'node:path'
import { readImports, type Import } from './read-imports.ts'
import { namesAtRunTime, outsideFiles, reachRules, rules, scope, type PackageRule } from './rules.ts'
import { sourceFiles } from './source-files.ts'

export type EdgeReport = {
  readonly packages: readonly { readonly name: string; readonly files: number; readonly imports: readonly string[] }[]
  /** Each names file, line and the mend. Empty means that the tree keeps to the plan. */
  readonly problems: readonly string[]
}

/** Reads the tree at `root`. A package without files, or a tree without a single edge, is a problem: nothing was checked. */
export function checkEdges(root: string): EdgeReport {
  const project = readJson(join(root, 'package.json'))
  const names = listOf(project['workspaces'])
  const rootTools = namesIn(project['devDependencies'])
  const problems: string[] = []
  const graph = new Map<string, readonly Target[]>()
  const packages = names.map((name) => {
    const rule = rules[name]
    if (rule === undefined) problems.push(`${name}: is a workspace that the house plan does not know; add its line to scripts/edges/rules.ts`)
    const home: Package = {
      name,
      rule: rule ?? { imports: [] },
      declared: namesIn(readJson(join(root, name, 'package.json'))['dependencies']),
      rootTools,
      workspaces: names,
    }
    const files = sourceFiles(root, name)
    const imports = new Set<string>()
    for (const file of files) {
      const source = readImports(file, readFileSync(join(root, file), 'utf8'))
      problems.push(...source.errors.map((error) => `${file}: could not be read: ${error}`))
      const targets: Target[] = []
      for (const entry of source.imports) {
        const seen = judge(file, entry, home)
        if (seen.problem !== undefined) problems.push(`${file}:${entry.line}: ${seen.problem}`)
        if (seen.target !== undefined) targets.push({ path: seen.target, kind: entry.kind, line: entry.line })
        if (seen.package !== undefined && seen.package !== name) imports.add(seen.package)
      }
      graph.set(file, targets)
    }
    if (files.length === 0) problems.push(`${name}: has no source file, so nothing of it was checked`)
    return { name, files: files.length, imports: [...imports].toSorted() }
  })
  if (packages.every((entry) => entry.imports.length === 0)) problems.push('no package imports another: the check saw nothing')
  return { packages, problems: [...problems, ...checkReach(root, graph)] }
}

type Package = {
  readonly name: string
  readonly rule: PackageRule
  readonly declared: ReadonlySet<string>
  readonly rootTools: ReadonlySet<string>
  readonly workspaces: readonly string[]
}

type Target = { readonly path: string; readonly kind: Import['kind']; readonly line: number }

type Judgement = { readonly problem?: string; readonly target?: string; readonly package?: string }

function judge(file: string, { specifier: written, kind }: Import, home: Package): Judgement {
  if (written === undefined) {
    if (namesAtRunTime.includes(file)) return {}
    return { problem: 'the import must be a plain text; got one that is known only at run time, which cannot be checked' }
  }
  const specifier = written.replace(/\?.*$/, '')
  if (specifier.startsWith('.')) return judgeRelative(file, specifier, home)
  if (specifier.startsWith(scope)) return judgePackage(specifier.slice(scope.length), home)
  if (specifier.startsWith('node:')) return { target: specifier }
  return judgeOutside(file, specifier, kind, home)
}

function judgeRelative(file: string, specifier: string, home: Package): Judgement {
  const target = posix.join(posix.dirname(file), specifier)
  const [top = ''] = target.split('/')
  if (top === home.name) return { target }
  if (outsideFiles[file]?.includes(target)) return {}
  if (top === 'reference' && isTest(file)) return {}
  if (home.workspaces.includes(top)) return { problem: `${specifier} leaves the package; import it as ${scope}${top}/...`, package: top }
  return { problem: `${specifier} leaves the package; only tests may read, and only from reference/` }
}

function judgePackage(path: string, home: Package): Judgement {
  const [name = '', ...rest] = path.split('/')
  const inside = rest.join('/')
  const target = `${name}/${inside === '' ? 'index' : inside}.ts`
  if (name === home.name) return { target, package: name }
  const allowed = home.rule.imports
  const only = home.rule.onlyFiles?.[name]
  const problem = !allowed.includes(name)
    ? `${home.name} must import only ${allowed.length === 0 ? 'nothing' : allowed.join(', ')}; got ${name}`
    : only?.pattern.test(inside) === false
      ? `${home.name} may import of ${name} only ${only.words}; got ${inside === '' ? 'the whole package' : inside}`
      : !home.declared.has(scope + name)
        ? `${scope}${name} must be named in ${home.name}/package.json under dependencies`
        : undefined
  return { target, package: name, ...(problem === undefined ? {} : { problem }) }
}

function judgeOutside(file: string, specifier: string, kind: Import['kind'], home: Package): Judgement {
  const name = specifier.split('/', specifier.startsWith('@') ? 2 : 1).join('/')
  const typesOf = `@types/${name.replace('@', '').replace('/', '__')}`
  const fromRoot = isTest(file) || file.endsWith('.config.ts') || kind === 'type' || file.endsWith('.d.ts')
  if (home.declared.has(name) || (fromRoot && (home.rootTools.has(name) || home.rootTools.has(typesOf)))) return {}
  return { problem: `${name} must be named in ${home.name}/package.json under dependencies (Node's own modules start with node:)` }
}

/** Follows only what runs at loading; what is lazy or a type is not loaded. */
function checkReach(root: string, graph: ReadonlyMap<string, readonly Target[]>): readonly string[] {
  const problems: string[] = []
  for (const rule of reachRules) {
    const starts = [...graph.keys()].filter((file) => rule.from.test(file))
    const seen = new Set<string>(starts)
    const queue: (readonly string[])[] = starts.map((file) => [file])
    for (let chain = queue.shift(); chain !== undefined; chain = queue.shift()) {
      for (const target of graph.get(chain.at(-1) ?? '') ?? []) {
        const path = target.path.startsWith('node:') ? target.path : existing(root, target.path)
        if (target.kind !== 'load' || seen.has(path)) continue
        seen.add(path)
        if (rule.never.test(path)) problems.push(`${[...chain, path].join(' -> ')}: ${rule.reason}`)
        else queue.push([...chain, path])
      }
    }
  }
  return problems
}

function existing(root: string, path: string): string {
  return [path, path.replace(/\.ts$/, '.tsx')].find((candidate) => existsSync(join(root, candidate))) ?? path
}

function isTest(file: string): boolean {
  return dirname(file).split('/').includes('test')
}

function readJson(path: string): Readonly<Record<string, unknown>> {
  const read: unknown = JSON.parse(readFileSync(path, 'utf8'))
  if (typeof read !== 'object' || read === null) throw new Error(`${path} must be a JSON object`)
  return Object.fromEntries(Object.entries(read))
}

function namesIn(dependencies: unknown): ReadonlySet<string> {
  return new Set(typeof dependencies === 'object' && dependencies !== null ? Object.keys(dependencies) : [])
}

function listOf(value: unknown): readonly string[] {
  return Array.isArray(value) ? value.filter((entry) => typeof entry === 'string') : []
}
