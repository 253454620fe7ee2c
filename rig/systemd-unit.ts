// A systemd unit that takes a plan up again after each start of the machine, as text: values written so that systemd reads back what was meant.
import { SpokenError } from '@guardband/model'

export interface UnitOrder {
  readonly title: string
  readonly planFile: string
  readonly workingFolder: string
  /** Program and arguments, the program by its whole path. */
  readonly command: readonly [string, ...string[]]
  /** The user that a system's unit runs as; left out in a user's own unit, and for root. */
  readonly user?: string
  readonly environment: Readonly<Record<string, string>>
  /** multi-user.target in a system's unit, default.target in a user's. */
  readonly wantedBy: 'multi-user.target' | 'default.target'
}

/** The first line: by it a unit is known as ours. */
export function unitMark(planFile: string): string {
  return `# Written by guardband rig install for ${printable(planFile)}`
}

/**
 * Restart=no: whether a plan goes on is the rig's own rule, with its cap. KillMode=mixed: on a stop the rig is told, not the workload, which would
 * otherwise be booked as one that died.
 */
export function unitText({ title, planFile, workingFolder, command, user, environment, wantedBy }: UnitOrder): string {
  const [program, ...args] = command
  if (/["'\\]/.test(program)) {
    throw new SpokenError({ code: 'unit-path', place: program, message: 'systemd starts no program whose path holds quotes or backslashes.', mend: 'Put Node under another name.' })
  }
  return [
    unitMark(planFile),
    '[Unit]',
    `Description=${specifiers(printable(`Guardband rig: ${title}`).replace(/\\/g, '/'))}`,
    '',
    '[Service]',
    'Type=exec',
    ...(user === undefined ? [] : [`User=${user}`]),
    `WorkingDirectory=${plainPath(workingFolder)}`,
    ...Object.entries(environment).map(([name, value]) => `Environment=${quoted(`${name}=${value}`)}`),
    `ExecStart=${[quoted(program), ...args.map((arg) => quoted(arg).replaceAll('$', '$$$$'))].join(' ')}`,
    'Restart=no',
    'KillMode=mixed',
    'TimeoutStopSec=30',
    'StandardInput=null',
    '',
    '[Install]',
    `WantedBy=${wantedBy}`,
    '',
  ].join('\n')
}

/** systemd.service(5), "Command lines": in double quotes with C escapes; "%" would begin a specifier (systemd.unit(5)). */
export function quoted(value: string): string {
  refuseUnspeakable(value)
  return `"${specifiers(value.replace(/["\\]/g, '\\$&'))}"`
}

/** A path that stands alone takes no quotes. With "/" at its end neither a blank nor a backslash there is lost. */
function plainPath(path: string): string {
  refuseUnspeakable(path)
  return `${specifiers(path)}/`.replace(/\/+$/, '/')
}

function specifiers(text: string): string {
  return text.replaceAll('%', '%%')
}

/** One line for people. */
function printable(text: string): string {
  return text.replace(UNSPEAKABLE, ' ')
}

function refuseUnspeakable(value: string): void {
  if (value.search(UNSPEAKABLE) === -1) return
  throw new SpokenError({ code: 'unit-path', place: printable(value), message: 'a service can\'t be given a path that holds line breaks or other control characters.', mend: 'Rename that file or folder.' })
}

/** Controls, and halves of characters, which no file of UTF-8 can hold. */
const UNSPEAKABLE = /[\p{Cc}\p{Cs}]/gu
