// Service units: what is written where, what systemd itself reads out of them, and that everything is taken away again.
import { spawnSync } from 'node:child_process'
import { chmodSync, chownSync, existsSync, mkdirSync, readFileSync, readdirSync, statSync, writeFileSync } from 'node:fs'
import { basename, dirname, join } from 'node:path'
import { array, constantFrom, sample } from 'fast-check'
import { SpokenError } from '@guardband/model'
import { expect, test } from 'vitest'
import { install, uninstall, unitOf, type InstallOrder, type InstallPlace, type SystemAnswer } from '../install.ts'
import { unitText } from '../systemd-unit.ts'
import { temporaryFolder } from './kit.ts'

const HAS_SYSTEMD_ANALYZE = spawnSync('systemd-analyze', ['--version']).status === 0

test('a user\'s plan becomes a unit of that user, enabled, and lingering where that is allowed', () => {
  const { order, place, calls } = machine({ uid: 1000, name: 'mara', home: '/home/mara' })
  const said = install(order, place)
  const unit = unitOf(order.planFile, place)
  expect(dirname(unit.path)).toBe(join(place.root, 'home/mara/.config/systemd/user'))
  expect(basename(unit.path)).toMatch(/^guardband-rig-plan-[0-9a-f]{8}\.service$/)
  expect(readFileSync(unit.path, 'utf8').split('\n')).toEqual([
    `# Written by guardband rig install for ${order.planFile}`,
    '[Unit]',
    'Description=Guardband rig: Narrow against wide, 100 %%',
    '',
    '[Service]',
    'Type=exec',
    `WorkingDirectory=${dirname(order.planFile)}/`,
    `ExecStart="/opt/node" "/opt/rig/main.ts" "run" "${order.planFile}" "--folder" "/data/rig" "--unattended"`,
    'Restart=no',
    'KillMode=mixed',
    'TimeoutStopSec=30',
    'StandardInput=null',
    '',
    '[Install]',
    'WantedBy=default.target',
    '',
  ])
  expect(calls).toEqual(['systemctl --user daemon-reload', `systemctl --user enable ${unit.name}`, 'loginctl enable-linger mara'])
  expect(said).toEqual(expect.arrayContaining([`wrote ${unit.path}`, expect.stringContaining('mara lingers from now on'), `What it says: journalctl --user -u ${unit.name}`]))
})

test('lingering that is refused is said with its mend', () => {
  const { order, place } = machine({ uid: 1000, name: 'mara', home: '/home/mara' }, { 'loginctl enable-linger mara': { status: 1, output: 'Access denied' } })
  expect(install(order, place).join('\n')).toContain('As root, once: loginctl enable-linger mara')
})

test.skipIf(process.getuid?.() !== 0)('root makes a unit of the system that runs as the user whose plan it is', () => {
  const { order, place } = machine({ uid: 0, name: 'root', home: '/root' }, { 'getent passwd 12345': { status: 0, output: 'mara:x:12345:12345::/home/mara:/bin/sh\n' } })
  chownSync(dirname(order.planFile), 12_345, 12_345)
  install(order, place)
  const { path } = unitOf(order.planFile, place)
  expect(path.startsWith(join(place.root, 'etc/systemd/system/'))).toBe(true)
  expect(readFileSync(path, 'utf8')).toMatch(/^User=mara$/m)
  expect(readFileSync(path, 'utf8')).toMatch(/^WantedBy=multi-user\.target$/m)
  expect(readFileSync(path, 'utf8')).not.toContain('--as-root')
})

test.skipIf(process.getuid?.() !== 0)('a plan of root becomes a service only when that is said', () => {
  const { order, place, calls } = machine({ uid: 0, name: 'root', home: '/root' })
  expect(codeOf(() => install(order, place))).toBe('as-root')
  expect(calls).toEqual([])
  install({ ...order, asRoot: true }, place)
  expect(readFileSync(unitOf(order.planFile, place).path, 'utf8')).toMatch(/^ExecStart=.* "--as-root"$/m)
})

test('uninstall takes away exactly what install made; twice is harmless, and so is installing twice', () => {
  const { order, place, calls } = machine({ uid: 1000, name: 'mara', home: '/home/mara' })
  mkdirSync(join(place.root, 'home/mara/.config/systemd/user'), { recursive: true })
  const before = filesBelow(place.root)
  install(order, place)
  expect(install(order, place)[0]).toMatch(/^left as it was /)
  calls.length = 0
  const { name } = unitOf(order.planFile, place)
  expect(uninstall(order, place)).toEqual([`disabled ${name}`, expect.stringContaining('removed ')])
  expect(calls).toEqual([`systemctl --user disable ${name}`, 'systemctl --user daemon-reload'])
  expect(filesBelow(place.root)).toEqual(before)
  expect(uninstall(order, place)).toEqual([expect.stringContaining('nothing is installed for this plan')])
})

test('a unit that somebody else wrote under that name is left alone', () => {
  const { order, place } = machine({ uid: 1000, name: 'mara', home: '/home/mara' })
  const { path } = unitOf(order.planFile, place)
  mkdirSync(dirname(path), { recursive: true })
  writeFileSync(path, '[Service]\nExecStart=/bin/true\n')
  expect(codeOf(() => install(order, place))).toBe('unit-foreign')
  expect(codeOf(() => uninstall(order, place))).toBe('unit-foreign')
  expect(readFileSync(path, 'utf8')).toBe('[Service]\nExecStart=/bin/true\n')
})

test('what systemctl refuses is told, and no unit stays behind', () => {
  const { order, place } = machine({ uid: 1000, name: 'mara', home: '/home/mara' }, { 'systemctl --user daemon-reload': { status: 1, output: 'Failed to connect to bus\n' } })
  expect(() => install(order, place)).toThrow('it failed: Failed to connect to bus.')
  expect(existsSync(unitOf(order.planFile, place).path)).toBe(false)
})

test('a machine that systemd does not run gets a sentence, no file', () => {
  const { order, place } = machine({ uid: 1000, name: 'mara', home: '/home/mara' }, {}, 'no systemd')
  const before = filesBelow(place.root)
  expect(codeOf(() => install(order, place))).toBe('no-systemd')
  expect(filesBelow(place.root)).toEqual(before)
})

test.each(['a\nb', 'a\u0000b', 'a\u001bb', 'a\ud800b'])('a path that no unit can hold is refused: %o', (name) => {
  expect(codeOf(() => unitText({ title: 't', planFile: '/p', workingFolder: `/${name}`, command: ['/node'], environment: {}, wantedBy: 'default.target' }))).toBe('unit-path')
  expect(codeOf(() => unitText({ title: 't', planFile: '/p', workingFolder: '/', command: ['/node', name], environment: {}, wantedBy: 'default.target' }))).toBe('unit-path')
})

test('a title can add no line to a unit', () => {
  const text = unitText({ title: 'a\nExecStartPre=/bin/evil\\', planFile: '/p\nUser=root', workingFolder: '/', command: ['/node'], environment: {}, wantedBy: 'default.target' })
  expect(text.split('\n').filter((line) => line.startsWith('ExecStartPre') || line.startsWith('User'))).toEqual([])
  expect(text).not.toMatch(/\\\n/)
})

// systemd checks that every program it is to start is there: it reads each name back as it was meant, or says so.
test.skipIf(!HAS_SYSTEMD_ANALYZE)('systemd reads back the programs that were meant, whatever they are called', { timeout: 60_000 }, () => {
  const folder = temporaryFolder()
  const letter = constantFrom(...'ab09 $%{}()[]*?;&|<>#!~`^=+,.:@-_éß漢'.split(''), '%h', '$HOME', '${HOME}', '%%', '$$', '; ', '@', '-')
  const name = array(letter, { minLength: 1, maxLength: 12 }).map((letters) => letters.join('')).filter((text) => text !== '.' && text !== '..' && !text.includes('/'))
  const names = [...new Set(sample(name, { numRuns: 150, seed: 4 }))]
  for (const each of names) {
    writeFileSync(join(folder, each), '#!/bin/sh\n')
    chmodSync(join(folder, each), 0o755)
  }
  const verified = (programs: readonly string[]) => {
    const units = programs.map((program, index) => {
      const path = join(folder, `guardband-rig-test-${index}.service`)
      writeFileSync(path, unitText({ title: 'all % of $them', planFile: '/p', workingFolder: folder, command: [join(folder, program), '$HOME', '%h', '"\'\\'], environment: { A: 'b $c %d "e"' }, wantedBy: 'multi-user.target' }))
      return path
    })
    const { stdout, stderr } = spawnSync('systemd-analyze', ['verify', '--man=no', ...units], { encoding: 'utf8' })
    return `${stdout}${stderr}`
  }
  expect(verified(names)).toBe('')
  expect(verified(['not $there %h'])).toContain(`Command ${join(folder, 'not $there %h')} is not executable`)
})

type Calls = Readonly<Record<string, SystemAnswer>>

function machine(user: InstallPlace['user'], answers: Calls = {}, init: 'systemd' | 'no systemd' = 'systemd'): { readonly order: InstallOrder; readonly place: InstallPlace; readonly calls: string[] } {
  const root = temporaryFolder()
  if (init === 'systemd') mkdirSync(join(root, 'run/systemd/system'), { recursive: true })
  mkdirSync(join(root, 'plans'))
  const planFile = join(root, 'plans', 'plan.json')
  writeFileSync(planFile, '{}')
  const calls: string[] = []
  const call: InstallPlace['call'] = (program, args) => {
    const line = [program, ...args].join(' ')
    calls.push(line)
    return answers[line] ?? { status: 0, output: '' }
  }
  return { order: { title: 'Narrow against wide, 100 %', planId: 'p', planFile, rigFolder: '/data/rig', rig: ['/opt/node', '/opt/rig/main.ts'], asRoot: false }, place: { root, call, user }, calls }
}

function filesBelow(root: string): readonly string[] {
  return readdirSync(root, { recursive: true, encoding: 'utf8' }).filter((name) => !statSync(join(root, name)).isDirectory()).toSorted()
}

function codeOf(work: () => unknown): string {
  try {
    work()
  } catch (cause) {
    if (cause instanceof SpokenError) return cause.code
    throw cause
  }
  return 'nothing was refused'
}
