// Approvals: what is listed, what is refused and why, how the store is kept.
import { chmodSync, copyFileSync, mkdirSync, readFileSync, realpathSync, statSync, symlinkSync, writeFileSync } from 'node:fs'
import { spawnSync } from 'node:child_process'
import { join } from 'node:path'
import { SpokenError, type Command, type Plan } from '@guardband/model'
import { expect, test } from 'vitest'
import { addApproval, approvalCode, approvalOf, createApprovalCheck, listCommands, readApprovals, readPlan, readsWithoutCommand } from '../index.ts'
import { createFileHasher } from '../file-hash.ts'
import { BASE, SCORE, createSources, planJson, shell, temporaryFolder, tune } from './kit.ts'

const { newId } = createSources('boot-1')

test('each command is listed once with its uses, its real program, the files among its arguments, folder and environment', () => {
  const { folder, plan } = toolPlan()
  const commands = listCommands(plan, folder, BASE)
  expect(commands.map(({ pinned }) => pinned.run[0])).toEqual(['./tool', 'sh'])
  expect(commands[0].uses).toEqual(['puts the tune "narrow" in force', 'runs the workload "photo stack"'])
  expect(commands[0].pinned).toEqual({
    run: ['./tool', 'script', '--data=data', 'absent', 'log'],
    program: { path: join(folder, 'tool'), sha256: sum('/bin/sh') },
    files: [
      { argument: 'script', path: join(folder, 'script'), sha256: sum(join(folder, 'script')) },
      { argument: '--data=data', path: join(folder, 'data'), sha256: sum(join(folder, 'data')) },
    ],
    mayChange: ['log'],
    folder,
    environment: { LANG: 'C', ...BASE, LEVEL: '2' },
  })
})

test('a program that is a link is pinned by what it leads to', () => {
  const { folder } = toolPlan()
  symlinkSync('tool', join(folder, 'link'))
  const plan = onePlan({ run: ['./link'], timeLimitSeconds: 5 })
  expect(listCommands(plan, folder, BASE)[0].pinned.program.path).toBe(join(folder, 'tool'))
})

test.each<[string, (folder: string) => Partial<{ command: Partial<Command>; folder: string }> | void, string]>([
  ['the program', (folder) => writeFileSync(join(folder, 'tool'), '#!/bin/sh\n'), 'the program file'],
  ['an argument file', (folder) => writeFileSync(join(folder, 'script'), 'other'), 'the argument file'],
  ['a file behind "="', (folder) => writeFileSync(join(folder, 'data'), 'other'), 'the argument file'],
  ['a file that was not there', (folder) => writeFileSync(join(folder, 'absent'), ''), 'was not there'],
  ['the working folder', () => ({ command: { folder: 'sub', run: ['./tool', 'script', '--data=data', 'absent', 'log'] } }), 'the working folder is'],
  ['the environment', () => ({ command: { environment: { LEVEL: '3' } } }), 'the environment variable LEVEL has changed'],
  ['what may change', () => ({ command: { mayChange: ['log', 'script'] } }), 'the files that may change are other ones'],
])('a change of %s is refused and named', (_, change, said) => {
  const { folder, plan, command, check } = toolPlan()
  expect(check(command)).toEqual(listCommands(plan, folder, BASE)[0].pinned)
  mkdirSync(join(folder, 'sub'))
  for (const name of ['tool', 'script', 'data', 'log']) copyFileSync(join(folder, name), join(folder, 'sub', name))
  const changed = change(folder) ?? {}
  const refusal = refusalOf(() => check({ ...command, ...changed.command }))
  expect(refusal.code).toBe('approval-changed')
  expect(refusal.sentence).toContain(said)
  expect(refusal.sentence).toContain('approve the plan again')
})

test('a file that may change may change', () => {
  const { folder, command, check } = toolPlan()
  writeFileSync(join(folder, 'log'), 'longer now')
  expect(() => check(command)).not.toThrow()
})

test('a file of the same size and date but other content is noticed', () => {
  const { folder, command, check } = toolPlan()
  check(command)
  const { atimeMs, mtimeMs } = statSync(join(folder, 'script'))
  writeFileSync(join(folder, 'script'), 'SCRIPT')
  spawnSync('touch', ['-d', `@${mtimeMs / 1000}`, join(folder, 'script')])
  expect(statSync(join(folder, 'script')).size).toBe(6)
  expect(atimeMs).toBeGreaterThan(0)
  expect(refusalOf(() => check(command)).code).toBe('approval-changed')
})

test('another argument is another command and has not been approved', () => {
  const { command, check } = toolPlan()
  expect(refusalOf(() => check({ ...command, run: [...command.run, '--more'] })).code).toBe('not-approved')
})

test('the path searched is that of the approval, whatever the shell has now', () => {
  const { folder, plan, store } = toolPlan()
  mkdirSync(join(folder, 'evil'))
  copyFileSync(join(folder, 'tool'), join(folder, 'evil', 'sh'))
  chmodSync(join(folder, 'evil', 'sh'), 0o755)
  const check = createApprovalCheck({ store, planFolder: folder, base: { ...BASE, PATH: `${join(folder, 'evil')}:${BASE.PATH}` }, hash: createFileHasher() })
  const readBack = plan.tunes[0].readBack[0].command
  if (readBack === undefined) throw new Error('the plan reads back by a command')
  expect(check(readBack).program.path).not.toContain('evil')
})

test('the code names all of the content: any change makes another one', () => {
  const { folder, plan } = toolPlan()
  const code = approvalCode(listCommands(plan, folder, BASE))
  expect(code).toMatch(/^[0-9a-f]{16}$/)
  expect(approvalCode(listCommands(plan, folder, BASE))).toBe(code)
  writeFileSync(join(folder, 'script'), 'other')
  expect(approvalCode(listCommands(plan, folder, BASE))).not.toBe(code)
})

test.each([
  [{ run: ['no-such-program-here'] }, 'no-program'],
  [{ run: ['./no-such-program-here'] }, 'no-program'],
  [{ run: ['sh'], folder: 'no-such-folder' }, 'no-folder'],
])('a plan with %o can not be listed: %s', (command, code) => {
  const folder = temporaryFolder()
  expect(refusalOf(() => listCommands(onePlan({ ...command, timeLimitSeconds: 1 }), folder, BASE)).code).toBe(code)
})

test('the store is private to its owner, keeps earlier approvals, and refuses to be read when damaged', () => {
  const { plan, folder } = toolPlan()
  const path = join(folder, 'config', 'guardband', 'approvals.json')
  expect(readApprovals(path)).toEqual({ approvals: [] })
  const commands = listCommands(plan, folder, BASE)
  const approval = approvalOf(commands, { at: '2026-11-01T00:00:00Z', plan: 'p', code: approvalCode(commands) })
  addApproval(path, approval, newId)
  addApproval(path, { ...approval, plan: 'q' }, newId)
  expect(readApprovals(path).approvals.map((each) => each.plan)).toEqual(['p', 'q'])
  expect(statSync(path).mode & 0o777).toBe(0o600)
  expect(statSync(join(path, '..')).mode & 0o777).toBe(0o700)
  writeFileSync(path, readFileSync(path, 'utf8').slice(0, -9))
  expect(refusalOf(() => readApprovals(path)).code).toBe('approvals-unreadable')
})

test('the command approves with the code that it listed and with no other', () => {
  const folder = temporaryFolder()
  writeFileSync(join(folder, 'plan.json'), JSON.stringify(planJson()))
  const rig = (...args: string[]) =>
    spawnSync(process.execPath, [new URL('../main.ts', import.meta.url).pathname, ...args], { cwd: folder, encoding: 'utf8', env: { PATH: BASE.PATH, HOME: folder } })
  const listing = rig('approve', 'plan.json')
  expect(listing.status).toBe(3)
  const code = /code ([0-9a-f-]{19})$/m.exec(listing.stdout)?.[1] ?? ''
  expect(listing.stdout).toContain(`npx guardband rig approve plan.json --code ${code}`)
  const wrong = rig('approve', 'plan.json', '--code', '00000000')
  expect(wrong.status).toBe(1)
  expect(wrong.stderr).toContain(`the code must be ${code}`)
  expect(rig('run', 'plan.json', '--as-root').stderr).toMatch(/has not been approved.*: npx guardband rig approve PLAN\./)
  expect(rig('approve', 'plan.json', '--code', code)).toMatchObject({ status: 0, stdout: expect.stringContaining('Run it with: npx guardband rig run plan.json') })
  expect(rig('run', 'plan.json', '--as-root').status).toBe(0)
  expect(rig('status', 'plan.json').stdout).toContain('12 steps finished, 0 remaining')
})

test.each([
  [{ ...shell('sleep 30'), timeLimitSeconds: 0.2 }, '6 steps behind it; 4 runs: 4 hung; 2 journals written'],
  [shell('test $(cat setting) = 1 && echo "score: 1"'), '6 steps behind it; 4 runs: 2 scored, 2 errors; 2 journals written'],
])('at its end a plan says what its runs came to, piped too: %o', (command, said) => {
  const { rig } = ownRig(planJson({ workloads: [{ name: 'photo stack', command, measures: [SCORE] }], design: { tunes: ['narrow', 'wide'], workloads: ['photo stack'], startsPerTune: 1, repeats: 2 } }))
  const code = /--code ([0-9a-f-]{19})/.exec(rig('approve', 'plan.json').stdout)?.[1] ?? ''
  rig('approve', 'plan.json', '--code', code)
  expect(rig('run', 'plan.json', '--as-root').stdout.trimEnd().split('\n').at(-1)).toBe(`finished: ${said}`)
})

test.each(['hyphens', 'spaces', 'capitals without either'])('the code is shown in groups of four and accepted with %s', (way) => {
  const { folder, rig } = ownRig(planJson())
  const code = /code ((?:[0-9a-f]{4}-){3}[0-9a-f]{4})$/m.exec(rig('approve', 'plan.json').stdout)?.[1] ?? ''
  const typed = way === 'hyphens' ? code : way === 'spaces' ? code.replaceAll('-', ' ') : code.replaceAll('-', '').toUpperCase()
  expect(rig('approve', 'plan.json', '--code', code.slice(0, -1)).status, 'a digit short').toBe(1)
  expect(rig('approve', 'plan.json', '--code', typed).status).toBe(0)
  expect(readApprovals(join(folder, '.config', 'guardband', 'approvals.json')).approvals.map((approval) => approval.code)).toEqual([code.replaceAll('-', '')])
})

test('the listing names the files that values are read from, with a command and without one', () => {
  const fileMeasure = { ...SCORE, reading: { file: 'out/result.json', pointer: '/score' } }
  const readBack = [{ key: 'setting', reading: { file: 'setting', pattern: '(.*)' }, expected: 1 }]
  const { folder, rig } = ownRig(planJson({ tunes: [{ name: 'narrow', apply: shell(':'), readBack }, tune('wide', 2)], workloads: [{ name: 'photo stack', command: shell('true'), measures: [fileMeasure] }] }))
  const real = realpathSync(folder)
  expect(rig('approve', 'plan.json').stdout.split('\n').filter((line) => line.startsWith('    reads  '))).toEqual([
    `    reads        ${join(real, 'out/result.json')}: what it holds is not looked at`,
    `    reads        ${join(folder, 'setting')}: reads back setting for the tune "narrow"`,
  ])
})

test('a folder among the arguments is named as what no digest speaks for', () => {
  const folder = temporaryFolder()
  mkdirSync(join(folder, 'tools'))
  writeFileSync(join(folder, 'tools', 'index.js'), '')
  writeFileSync(join(folder, 'plan.json'), JSON.stringify(planJson({ workloads: [{ name: 'photo stack', command: { run: ['sh', '--from=tools', 'absent', ''] }, measures: [SCORE] }] })))
  const { stdout } = spawnSync(process.execPath, [new URL('../main.ts', import.meta.url).pathname, 'approve', 'plan.json'], { cwd: folder, encoding: 'utf8', env: { PATH: BASE.PATH, HOME: folder } })
  expect(stdout.split('\n').filter((line) => line.includes('is not looked at'))).toEqual([`    a folder     ${join(realpathSync(folder), 'tools')}: what it holds is not looked at`])
})

test('an argument that looks like a file and is not there is said so, one that is there or that the command makes is not', () => {
  const run = ['sh', 'missing.mjs', '--from=data/absent', 'made.bin', 'plan.json', '-c', 'echo one.two', '1.5', '--level', 'http://north.example/x.js']
  const { rig } = ownRig(planJson({ workloads: [{ name: 'photo stack', command: { run, mayChange: ['made.bin'] }, measures: [SCORE] }] }))
  expect(rig('approve', 'plan.json').stdout.split('\n').filter((line) => line.startsWith('    not there'))).toEqual([
    '    not there    there is no file missing.mjs (yet)',
    '    not there    there is no file data/absent (yet)',
  ])
})

test('a plan file that is not there, or is a folder, is said in plain words', () => {
  const { folder, rig } = ownRig(planJson())
  mkdirSync(join(folder, 'sub'))
  expect(rig('approve', 'absent.json').stderr).toBe('absent.json: there is no such file. Name the plan file as it is from this folder.\n')
  expect(rig('run', 'sub', '--as-root').stderr).toBe('sub: this is a folder; a plan is a file. Name the plan file as it is from this folder.\n')
})

test('a plan can neither hide a command of the listing nor add a line to it', () => {
  const folder = temporaryFolder()
  const upAndAway = '\u001b[1A\u001b[2K'
  const hidden = { ...tune('narrow', 1), apply: { ...shell('echo hidden \u202etxet\u009b2K'), environment: { LEVEL: `1${upAndAway}${upAndAway}`, [`A${upAndAway}`]: '2' } } }
  const forged = { ...tune('wide" in force\n/bin/true\r\u2028    puts the tune "wide', 2) }
  const title = `Narrow${upAndAway}`
  writeFileSync(join(folder, 'plan.json'), JSON.stringify(planJson({ title, tunes: [hidden, forged], design: undefined, steps: [{ id: 'one', kind: 'change', tune: 'narrow', start: 'live' }, { id: 'ask', kind: 'prompt', text: `look${upAndAway}` }] })))
  const rig = (...args: string[]) =>
    spawnSync(process.execPath, [new URL('../main.ts', import.meta.url).pathname, ...args], { cwd: folder, encoding: 'utf8', env: { PATH: BASE.PATH, HOME: folder } })
  const { stdout } = rig('approve', 'plan.json')
  expect(stdout).not.toMatch(/[^\P{C}\n]|\u2028/u)
  expect(stdout.split('\n')).not.toContain('/bin/true')
  expect(stdout).toContain('echo hidden \\u{202e}txet\\u{9b}2K')
  expect(stdout).toContain('LEVEL=1\\u{1b}[1A')
  const code = /code ([0-9a-f-]{19})$/m.exec(stdout)?.[1] ?? ''
  rig('approve', 'plan.json', '--code', code)
  const { stdout: said, stderr } = rig('run', 'plan.json', '--as-root')
  expect(said).toContain('Narrow\\u{1b}[1A')
  expect(said + stderr).not.toMatch(/[^\P{C}\n]/u)
})

test.skipIf(process.getuid?.() !== 0)('nothing runs as root unless that is said', () => {
  const folder = temporaryFolder()
  writeFileSync(join(folder, 'plan.json'), JSON.stringify(planJson()))
  const refused = spawnSync(process.execPath, [new URL('../main.ts', import.meta.url).pathname, 'run', 'plan.json'], { cwd: folder, encoding: 'utf8', env: { PATH: BASE.PATH, HOME: folder } })
  expect(refused.status).toBe(1)
  expect(refused.stderr).toContain('--as-root')
})

/** A rig in a process of its own over that plan, with a home of its own. */
function ownRig(json: Readonly<Record<string, unknown>>) {
  const folder = temporaryFolder()
  writeFileSync(join(folder, 'plan.json'), JSON.stringify(json))
  const rig = (...args: string[]) =>
    spawnSync(process.execPath, [new URL('../main.ts', import.meta.url).pathname, ...args], { cwd: folder, encoding: 'utf8', env: { PATH: BASE.PATH, HOME: folder } })
  return { folder, rig }
}

function toolPlan() {
  const folder = temporaryFolder()
  copyFileSync('/bin/sh', join(folder, 'tool'))
  chmodSync(join(folder, 'tool'), 0o755)
  for (const name of ['script', 'data', 'log']) writeFileSync(join(folder, name), name)
  const plan = onePlan({ run: ['./tool', 'script', '--data=data', 'absent', 'log'], mayChange: ['log'], environment: { LEVEL: '2' }, timeLimitSeconds: 5 })
  const store = { approvals: [approvalOf(listCommands(plan, folder, BASE), { at: '2026-11-01T00:00:00Z', plan: plan.id, code: '00000000' })] }
  const check = createApprovalCheck({ store, planFolder: folder, base: BASE, hash: createFileHasher() })
  const { command } = plan.workloads[0]
  if (command === undefined) throw new Error('the workload runs by a command')
  return { folder, plan, store, check, command }
}

function onePlan(command: Command): Plan {
  const tune = { name: 'narrow', apply: command, readBack: [{ key: 'setting', command: shell('cat setting'), reading: { pattern: '(.*)' }, expected: 1 }] }
  const json = planJson({ tunes: [tune], workloads: [{ name: 'photo stack', command, measures: [SCORE] }], design: { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 1, repeats: 1 } })
  return readPlan(JSON.stringify(json), 'plan.json')
}

function refusalOf(work: () => unknown): SpokenError {
  try {
    work()
  } catch (cause) {
    if (cause instanceof SpokenError) return cause
    throw cause
  }
  throw new Error('a refusal was expected; got none')
}

/** By another program than the one under test. */
function sum(path: string): string {
  return spawnSync('sha256sum', [path], { encoding: 'utf8' }).stdout.slice(0, 64)
}

test('everything that a plan can run is listed, each with what it is for', () => {
  const folder = temporaryFolder()
  const plan = readPlan(JSON.stringify(planJson({
    tunes: [{ ...tune('narrow', 1), readBack: [{ key: 'clock', command: shell('read clock'), reading: { file: 'clock.txt', pattern: '(.*)' }, expected: 1 }, { key: 'score', selfReported: 'photo stack', reading: { pattern: '(.*)' }, expected: 1 }, { key: 'fan', reading: { typed: 'Which?' }, expected: 'quiet' }, { key: 'state', reading: { file: 'state.txt', pattern: '(.*)' }, expected: 1 }] }],
    workloads: [
      { name: 'photo stack', command: shell('stack'), measures: [{ ...SCORE, reading: { file: 'score.txt', pattern: '(.*)' } }] },
      { name: 'map scene', prompt: { text: 'Play it.' }, measures: [{ ...SCORE, reading: { file: 'scene.txt', pattern: '(.*)' } }] },
      { name: 'hash', selfCheck: { kernel: 'hash chain', seconds: 60 } },
    ],
    training: { command: shell('training'), result: { pattern: '(.*)' }, postCode: { file: 'post.txt', pattern: '(.*)' } },
    machine: { boot: { command: shell('boot'), reading: { pattern: '(.*)' } }, powerOn: { cold: shell('cold'), warm: shell('warm') }, recover: [shell('switch'), shell('clear')] },
    design: { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 1, repeats: 1 },
  })), 'plan.json')
  const commands = listCommands(plan, folder, BASE)
  expect(commands.map(({ pinned, uses, reads }) => [pinned.run[2], uses, reads])).toEqual([
    ['echo 1 > setting', ['puts the tune "narrow" in force'], []],
    ['read clock', ['reads back clock for the tune "narrow"'], [join(folder, 'clock.txt')]],
    ['stack', ['runs the workload "photo stack"'], [join(folder, 'score.txt')]],
    ['training', ['tells how memory training went'], [join(folder, 'post.txt')]],
    ['boot', ['tells which boot the machine under test is in'], []],
    ['cold', ['gives the machine under test a cold start'], []],
    ['warm', ['gives the machine under test a warm start'], []],
    ['switch', ['brings the machine under test back when it stands still'], []],
    ['clear', ['brings the machine under test back when it stands still'], []],
  ])
  expect(readsWithoutCommand(plan, folder)).toEqual([
    { use: 'reads back state for the tune "narrow"', path: join(folder, 'state.txt') },
    { use: 'measures the workload "map scene", which a person carries out', path: join(folder, 'scene.txt') },
  ])
})
