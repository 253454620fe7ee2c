/** The files of a package that a person wrote, as paths from the tree's top with forward slashes. */
import { existsSync, readdirSync } from 'node:fs'
import { join, relative, sep } from 'node:path'

/** Sources that can import, tests and configuration included, sorted. */
export function sourceFiles(root: string, name: string): readonly string[] {
  return filesOf(root, name).filter((path) => /\.[cm]?[jt]sx?$/.test(path))
}

/** Style sheets, which import typefaces and each other. */
export function styleFiles(root: string, name: string): readonly string[] {
  return filesOf(root, name).filter((path) => path.endsWith('.css'))
}

function filesOf(root: string, name: string): readonly string[] {
  const home = join(root, name)
  if (!existsSync(home)) return []
  return readdirSync(home, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => relative(root, join(entry.parentPath, entry.name)).split(sep).join('/'))
    .filter((path) => !/\/(?:node_modules|dist|\.vite)\//.test(path))
    .toSorted()
}
