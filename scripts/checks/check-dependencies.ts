/** Holds the lock file against two promises: permissive licences only, and nothing from outside the npm registry. */

export type DependencyReport = { readonly production: number; readonly problems: readonly string[] }

/** Permissive licences by SPDX name, as they stand in the lock file; OFL is for the typefaces. */
const permissive = new Set([
  '0BSD',
  'Apache-2.0',
  'BlueOak-1.0.0',
  'BSD-2-Clause',
  'BSD-3-Clause',
  'BSL-1.0',
  'CC0-1.0',
  'ISC',
  'MIT',
  'MIT-0',
  'OFL-1.1',
  'Unlicense',
  'Zlib',
])

/** Tools that only developers run may carry any licence; what ships with the program may not. */
export function checkDependencies(lockFile: string): DependencyReport {
  const lock: unknown = JSON.parse(lockFile)
  const entries = Object.entries(fieldsOf(fieldsOf(lock)['packages'])).filter(([path]) => path.includes('node_modules/'))
  const external = entries.map(([path, value]) => ({ path, entry: fieldsOf(value) })).filter(({ entry }) => entry['link'] !== true)
  const production = external.filter(({ entry }) => entry['dev'] !== true)
  const problems = [
    ...(production.length === 0 ? ['package-lock.json must name the packages we ship; got none'] : []),
    ...production
      .filter(({ entry }) => !isPermissive(entry['license']))
      .map(({ path, entry }) => `${path}: licence must be permissive; got ${String(entry['license'])}`),
    ...external
      .filter(({ entry }) => !isFromRegistry(entry))
      .map(({ path, entry }) => `${path}: must come from the npm registry with a digest; got ${String(entry['resolved'])}`),
  ]
  return { production: production.length, problems }
}

/** `A OR B` needs one of them, `A AND B` both; brackets only ever stand around the whole. */
function isPermissive(licence: unknown): boolean {
  if (typeof licence !== 'string') return false
  const expression = licence.replace(/^\((.*)\)$/, '$1')
  return expression.split(' OR ').some((choice) => choice.split(' AND ').every((name) => permissive.has(name.trim())))
}

/** npm may leave `resolved` out, meaning the registry; the digest must be there either way. */
function isFromRegistry(entry: Readonly<Record<string, unknown>>): boolean {
  const { resolved, integrity, inBundle } = entry
  if (inBundle === true) return true
  const known = resolved === undefined || (typeof resolved === 'string' && resolved.startsWith('https://registry.npmjs.org/'))
  return known && typeof integrity === 'string'
}

function fieldsOf(value: unknown): Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null ? Object.fromEntries(Object.entries(value)) : {}
}
