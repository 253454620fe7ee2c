// Lets a plan go on by itself after each start of the machine, as a service of systemd, and takes that back.
import { createHash } from 'node:crypto'
import { existsSync, mkdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { basename, dirname, join } from 'node:path'
import { SpokenError } from '@guardband/model'
import { unitMark, unitText } from './systemd-unit.ts'

/** Runs a program of the system and says how it ended; null where there is no such program. */
export type SystemCall = (program: string, args: readonly string[]) => SystemAnswer | null

export interface SystemAnswer {
  readonly status: number
  readonly output: string
}

export interface InstallPlace {
  /** `/`, or a folder that stands for it. */
  readonly root: string
  readonly call: SystemCall
  /** Who does this. */
  readonly user: { readonly uid: number; readonly name: string; readonly home: string }
}

export interface InstallOrder {
  readonly title: string
  readonly planId: string
  /** Whole path. */
  readonly planFile: string
  readonly rigFolder: string
  /** How `rig run` is called here: Node and the rig's entry, by whole paths. */
  readonly rig: readonly [string, ...string[]]
  /** Said by the person: as root, where the plan belongs to root. */
  readonly asRoot: boolean
  /** Where the person's own configuration lies, when it isn't where it would be looked for. */
  readonly configFolder?: string
}

export interface Owner {
  readonly uid: number
  readonly name: string
  readonly home: string
}

/** True where systemd runs the machine: a program by that name alone says nothing (sd_booted(3)). */
export function systemdRuns({ root }: Pick<InstallPlace, 'root'>): boolean {
  return existsSync(join(root, 'run/systemd/system'))
}

/** Whom the service runs as: the one who installs it, or, where root does, the one whose plan it is. */
export function ownerOf({ planFile, asRoot }: Pick<InstallOrder, 'planFile' | 'asRoot'>, { user, call }: InstallPlace): Owner {
  if (user.uid !== 0) return user
  const { uid } = statSync(dirname(planFile))
  if (uid === 0) {
    if (asRoot) return user
    throw new SpokenError({ code: 'as-root', place: planFile, message: 'this plan lies in a folder of root, so it would run as root, where a mistake in one of its commands can harm the whole machine.', mend: 'Move it to a folder of the user who runs it; where the tune itself needs root, say so with --as-root.' })
  }
  const fields = call('getent', ['passwd', String(uid)])?.output.trim().split(':') ?? []
  if (fields.length < 7) throw new SpokenError({ code: 'no-such-user', place: planFile, message: `its folder belongs to user ${uid}, whom this machine doesn't know.`, mend: 'Give the folder to the user who runs the plan.' })
  return { uid, name: fields[0], home: fields[5] }
}

/** What was done, a sentence each. Throws where it can't be done; doing it twice changes nothing. */
export function install(order: InstallOrder, place: InstallPlace): readonly string[] {
  const { user } = place
  refuseWithoutSystemd(place)
  const owner = ownerOf(order, place)
  const unit = unitOf(order.planFile, place)
  const before = existsSync(unit.path) ? readFileSync(unit.path, 'utf8') : null
  if (before !== null && !isOurs(before, order.planFile)) throw foreign(unit.path)
  const text = unitText({
    title: order.title,
    planFile: order.planFile,
    workingFolder: dirname(order.planFile),
    command: [...order.rig, 'run', order.planFile, '--folder', order.rigFolder, '--unattended', ...(owner.uid === 0 ? ['--as-root'] : [])],
    ...(user.uid === 0 && owner.uid !== 0 ? { user: owner.name } : {}),
    environment: order.configFolder === undefined ? {} : { XDG_CONFIG_HOME: order.configFolder },
    wantedBy: user.uid === 0 ? 'multi-user.target' : 'default.target',
  })
  mkdirSync(dirname(unit.path), { recursive: true })
  writeFileSync(unit.path, text, { mode: 0o644 })
  const said = [`${before === null ? 'wrote' : before === text ? 'left as it was' : 'wrote anew'} ${unit.path}`]
  try {
    needed(place, [...unit.systemctl, 'daemon-reload'])
    needed(place, [...unit.systemctl, 'enable', unit.name])
  } catch (cause) {
    if (before === null) rmSync(unit.path, { force: true })
    throw cause
  }
  said.push(`enabled ${unit.name}, which runs as ${owner.name} at each start of the machine`)
  if (user.uid !== 0) said.push(lingering(place))
  const journal = user.uid === 0 ? 'journalctl' : 'journalctl --user'
  return [
    ...said,
    `It begins with the next start of the machine; to begin now: ${['systemctl', ...unit.systemctl, 'start', unit.name].join(' ')}`,
    `What it says: ${journal} -u ${unit.name}`,
    'Once the plan is finished it starts no more than to say so; rig uninstall takes it away.',
  ]
}

/** Takes away exactly what install made. Where nothing is, it says that and does nothing. A session at work goes on. */
export function uninstall({ planFile }: Pick<InstallOrder, 'planFile'>, place: InstallPlace): readonly string[] {
  const unit = unitOf(planFile, place)
  if (!existsSync(unit.path)) return [`nothing is installed for this plan (there is no ${unit.path})`]
  if (!isOurs(readFileSync(unit.path, 'utf8'), planFile)) throw foreign(unit.path)
  if (systemdRuns(place)) needed(place, [...unit.systemctl, 'disable', unit.name])
  rmSync(unit.path)
  if (systemdRuns(place)) needed(place, [...unit.systemctl, 'daemon-reload'])
  return [`disabled ${unit.name}`, `removed ${unit.path}`]
}

export interface Unit {
  readonly name: string
  readonly path: string
  /** What a call of systemctl begins with. */
  readonly systemctl: readonly string[]
}

/** Named after the plan's folder and file, so that two plans of one name don't meet. */
export function unitOf(planFile: string, { root, user }: InstallPlace): Unit {
  const shown = basename(planFile).replace(/\.[^.]*$/, '').replace(/[^A-Za-z0-9]+/g, '-').replace(/^-|-$/g, '').slice(0, 40)
  const name = `guardband-rig-${shown === '' ? 'plan' : shown}-${createHash('sha256').update(planFile).digest('hex').slice(0, 8)}.service`
  return user.uid === 0
    ? { name, path: join(root, 'etc/systemd/system', name), systemctl: [] }
    : { name, path: join(root, user.home, '.config/systemd/user', name), systemctl: ['--user'] }
}

/** For Windows: untested, so it is shown and not run. */
export function scheduledTask({ planId, planFile, rigFolder, rig }: InstallOrder): readonly string[] {
  const words = [...rig, 'run', planFile, '--folder', rigFolder, '--unattended'].map((word) => `\\"${word}\\"`).join(' ')
  return [
    'On Windows nothing is installed from here. This command makes a task that takes the plan up at each start; it is UNTESTED:',
    `schtasks /Create /SC ONSTART /RL LIMITED /TN "Guardband rig ${planId.replace(/[^\w .-]+/g, '-')}" /TR "${words}"`,
    `To take it away: schtasks /Delete /TN "Guardband rig ${planId.replace(/[^\w .-]+/g, '-')}"`,
  ]
}

function refuseWithoutSystemd(place: InstallPlace): void {
  if (systemdRuns(place)) return
  throw new SpokenError({ code: 'no-systemd', message: 'systemd doesn\'t run this machine, so no service was made.', mend: 'Let whatever starts programs on it call this, as the plan\'s owner: npx guardband rig run PLAN --unattended.' })
}

function isOurs(text: string, planFile: string): boolean {
  return text.split('\n', 1)[0] === unitMark(planFile)
}

function foreign(path: string): SpokenError {
  return new SpokenError({ code: 'unit-foreign', place: path, message: 'this unit was not written by rig install for this plan; it is left alone.', mend: 'Move it away if it may go.' })
}

/** A user's units end with the user's last session, and begin with the first, unless they linger. */
function lingering({ call, user }: InstallPlace): string {
  if (call('loginctl', ['enable-linger', user.name])?.status === 0) return `${user.name} lingers from now on: the unit begins with the machine, not only with a login`
  return `${user.name} may not linger by their own word: the unit begins only when they log in. As root, once: loginctl enable-linger ${user.name}`
}

function needed({ call }: InstallPlace, args: readonly string[]): void {
  const answer = call('systemctl', args)
  if (answer?.status === 0) return
  const why = answer === null ? 'there is no such program' : answer.output.trim().split('\n').at(-1) ?? ''
  throw new SpokenError({ code: 'systemctl-failed', place: ['systemctl', ...args].join(' '), message: `it failed: ${why === '' ? `status ${answer?.status ?? 'unknown'}` : why}.`, mend: 'See to that, then repeat it.' })
}
