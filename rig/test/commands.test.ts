// What a person can tell a rig: stop, install, uninstall, doctor, and the words of each.
import { spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, readdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { SpokenError } from '@guardband/model'
import { expect, onTestFinished, test, vi } from 'vitest'
import { EXIT, approve, run, stop } from '../commands.ts'
import { doctor } from '../commands/doctor.ts'
import { install, uninstall } from '../commands/install.ts'
import type { InstallPlace } from '../install.ts'
import { ONE_START, planJson, quietTerminal, temporaryFolder } from './kit.ts'

const MAIN = new URL('../main.ts', import.meta.url).pathname

test('a wish to stop holds for a rig that starts by itself, and ends when a person runs the plan', async () => {
  const { planFile, approveIt, runIt } = ownPlan()
  await approveIt()
  expect(await stop({ planFile }, quietTerminal([]))).toBe(EXIT.well)
  expect(await runIt('unattended')).toBe(EXIT.stopped)
  expect(await runIt('unattended')).toBe(EXIT.stopped)
  expect(await runIt('attended')).toBe(EXIT.well)
})

test('the doctor ends well only where the plan could run, and leaves nothing behind', async () => {
  const { folder, planFile, approveIt } = ownPlan()
  const before = readdirSync(folder)
  const said: string[] = []
  expect(await doctor({ planFile }, quietTerminal(said))).toBe(EXIT.failed)
  expect(said.filter((line) => line.startsWith('! approvals')).every((line) => line.includes('has not been approved on this machine'))).toBe(true)
  expect(readdirSync(folder)).toEqual(before)
  await approveIt()
  const after: string[] = []
  expect(await doctor({ planFile }, quietTerminal(after)), after.join('\n')).toBe(EXIT.well)
  expect(after.find((line) => line.includes(' approvals '))).toMatch(/^ {2}approvals +3 uses of commands, all as approved$/)
  writeFileSync(join(folder, 'config', 'guardband', 'ceilings.json'), '[{')
  const torn: string[] = []
  expect(await doctor({ planFile }, quietTerminal(torn))).toBe(EXIT.failed)
  expect(torn.join('\n')).toContain("the rig's own ceilings can't be read")
})

test('what would stop at once is not installed: a plan without its approval', async () => {
  const { folder, planFile, approveIt } = ownPlan()
  const place = placeIn(folder)
  const refused = await refusalOf(() => install({ planFile, asRoot: true }, quietTerminal([]), place))
  expect(refused.code).toBe('not-approved')
  expect(refused.sentence).toContain('Nothing was installed. Approve it as mara, who will run it: npx guardband rig approve')
  expect(existsSync(join(place.root, 'home'))).toBe(false)
  await approveIt()
  const said: string[] = []
  expect(await install({ planFile, asRoot: false }, quietTerminal(said), place)).toBe(EXIT.well)
  expect(said.join('\n')).toMatch(/wrote .*guardband-rig-plan-[0-9a-f]{8}\.service/)
  expect(await uninstall({ planFile }, quietTerminal([]), place)).toBe(EXIT.well)
})

test.each<[readonly string[], string]>([
  [[], 'a rig is told: approve PLAN'],
  [['fly', 'plan.json'], 'a rig is told: approve PLAN'],
  [['status', 'plan.json', '--code', 'x'], '--code says nothing here; a rig is told: status PLAN [--folder FOLDER].'],
  [['toString', 'plan.json'], 'a rig is told: approve PLAN'],
])('what a rig is not told to do gets the words that it knows: %o', (args, sentence) => {
  const { status, stderr } = spawnSync(process.execPath, [MAIN, ...args], { encoding: 'utf8' })
  expect(status).toBe(EXIT.failed)
  expect(stderr).toContain(sentence)
})

function ownPlan() {
  const folder = temporaryFolder()
  onTestFinished(() => void vi.unstubAllEnvs())
  vi.stubEnv('XDG_CONFIG_HOME', join(folder, 'config'))
  const planFile = join(folder, 'plan.json')
  writeFileSync(planFile, JSON.stringify(planJson({ design: ONE_START, tunes: [planJson()['tunes']].flat().slice(0, 1) })))
  const approveIt = async () => {
    const said: string[] = []
    await approve({ planFile }, quietTerminal(said))
    await approve({ planFile, code: /--code ([0-9a-f-]{19})/.exec(said.join('\n'))?.[1] ?? '' }, quietTerminal([]))
  }
  const runIt = (attendance: 'attended' | 'unattended') => run({ planFile, asRoot: true, attendance, company: 'alone', signal: new AbortController().signal }, quietTerminal([]))
  return { folder, planFile, approveIt, runIt }
}

/** This user by number, under another name, on a machine that systemd runs. */
function placeIn(folder: string): InstallPlace {
  const root = join(folder, 'root')
  mkdirSync(join(root, 'run/systemd/system'), { recursive: true })
  return { root, call: () => ({ status: 0, output: '' }), user: { uid: process.getuid?.() === 0 ? 1000 : (process.getuid?.() ?? 1000), name: 'mara', home: '/home/mara' } }
}

async function refusalOf(work: () => Promise<unknown>): Promise<SpokenError> {
  try {
    await work()
  } catch (cause) {
    if (cause instanceof SpokenError) return cause
    throw cause
  }
  throw new Error('a refusal was expected; got none')
}
