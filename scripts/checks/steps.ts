/** The checks that read the sources without running them, each with the program that does it. */
import { existsSync } from 'node:fs'
import { join } from 'node:path'

export type Step = { readonly name: string; readonly args: readonly string[] }

/** Arguments for Node, to be run in `root`. */
export function staticSteps(root: string): readonly Step[] {
  const tsc = 'node_modules/typescript/bin/tsc'
  const hasWeb = existsSync(join(root, 'web', 'index.html'))
  return [
    { name: 'types', args: [tsc, '--noEmit', '-p', '.'] },
    ...(hasWeb ? [{ name: 'types of the page', args: [tsc, '--noEmit', '-p', 'web'] }] : []),
    { name: 'lint', args: ['node_modules/oxlint/bin/oxlint', '--type-aware', '.'] },
    { name: 'import edges', args: ['scripts/edges.ts'] },
    { name: 'dependencies', args: ['scripts/dependencies.ts'] },
    { name: 'exports', args: ['scripts/exports.ts'] },
  ]
}
