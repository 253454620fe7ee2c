// The guide's example does what the guide says, run from a copied folder by its own entry.
import { spawnSync } from 'node:child_process'
import { cpSync, mkdirSync, readFileSync, readdirSync, symlinkSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { expect, test } from 'vitest'
import { ofType, readJournals, temporaryFolder } from './kit.ts'

const TREE = dirname(dirname(dirname(fileURLToPath(import.meta.url))))

test('the plan of the guide runs from a copied folder that holds rig, model, link and three packages', () => {
  const copy = copiedRig()
  const folder = temporaryFolder()
  const guide = readFileSync(join(TREE, 'docs', 'guide', 'rig-plan.md'), 'utf8')
  const files = [...guide.matchAll(/^```\w+ (\S+)\n([\s\S]*?)^```$/gm)].map(([, name, content]) => ({ name, content }))
  expect(files.map(({ name }) => name).toSorted()).toEqual(['archive-pack.mjs', 'photo-stack.mjs', 'plan.json', 'set-workers.mjs', 'show-settings.mjs'])
  for (const { name, content } of files) writeFileSync(join(folder, name), content)
  // Fewer runs than the guide's: the same plan in a shorter time.
  const plan = JSON.parse(readFileSync(join(folder, 'plan.json'), 'utf8'))
  writeFileSync(join(folder, 'plan.json'), JSON.stringify({ ...plan, design: { ...plan.design, startsPerTune: 1, repeats: 1 } }))

  const rig = (...args: string[]) =>
    spawnSync(process.execPath, [join(copy, 'rig', 'main.ts'), ...args], { cwd: folder, encoding: 'utf8', env: { PATH: `${dirname(process.execPath)}:${process.env['PATH']}`, HOME: folder } })
  const code = /--code ([0-9a-f-]{19})/.exec(rig('approve', 'plan.json').stdout)?.[1] ?? ''
  expect(rig('approve', 'plan.json', '--code', code).status).toBe(0)
  const run = rig('run', 'plan.json', '--as-root')
  expect(run.stderr).toBe('')
  expect(run.status).toBe(0)
  const journals = readJournals(join(folder, 'rig-workers-1')).map(({ bodies }) => bodies)
  expect(ofType(journals, 'in force').map(({ tune, known }) => [tune, known])).toEqual([['one worker', 'read back'], ['two workers', 'read back']])
  expect(ofType(journals, 'end').map(({ outcome }) => outcome)).toEqual(['scored', 'scored', 'scored', 'scored'])
})

function copiedRig(): string {
  const copy = temporaryFolder()
  for (const name of ['rig', 'model', 'link']) cpSync(join(TREE, name), join(copy, name), { recursive: true, filter: (path) => !path.includes('node_modules') })
  for (const name of ['zod', '@noble/hashes', 'canonicalize']) cpSync(join(TREE, 'node_modules', name), join(copy, 'node_modules', name), { recursive: true })
  mkdirSync(join(copy, 'node_modules', '@guardband'))
  for (const name of ['model', 'link']) symlinkSync(join('..', '..', name), join(copy, 'node_modules', '@guardband', name))
  expect(readdirSync(join(copy, 'node_modules')).toSorted()).toEqual(['@guardband', '@noble', 'canonicalize', 'zod'])
  return copy
}
