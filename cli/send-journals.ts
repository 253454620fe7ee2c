// `guardband rig send`: hands a rig's journals to the hub over its second listener, whose certificate was pinned when the rig was let in.
import { mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs'
import { hostname } from 'node:os'
import { basename, extname, join, resolve } from 'node:path'
import { pairRig, pinnedRequest } from '@guardband/link/pinned-client'
import { counted, errorReplySchema, PHONE_ROUTES, SpokenError } from '@guardband/model'
import { keysFolder } from './keys-folder.ts'
import type { Terminal } from './terminal.ts'

export interface SendOptions {
  readonly paths: readonly string[]
  /** `https://ADDRESS:PORT` */
  readonly to: string
  /** Both are needed once, to be let in. */
  readonly fingerprint: string | undefined
  readonly code: string | undefined
}

export async function sendJournals(terminal: Terminal, options: SendOptions): Promise<void> {
  const hub = await hubOf(terminal, options)
  let runs = 0
  const files = options.paths.flatMap((path) => journalsAt(resolve(terminal.folder, path)))
  for (const file of files) {
    const query = new URLSearchParams({ file: basename(file) })
    const reply = await pinnedRequest({ url: `${hub.origin}${PHONE_ROUTES.journal.path}?${query.toString()}`, fingerprint: hub.fingerprint, method: 'POST', headers: { authorization: `Bearer ${hub.token}` }, body: readFileSync(file) })
    const told: unknown = JSON.parse(reply.bytes.toString('utf8'))
    if (reply.status !== 200) throw new SpokenError({ code: 'not-sent', place: file, message: errorReplySchema.safeParse(told).data?.sentence ?? `the hub refused it (status ${reply.status}).` })
    const taken = PHONE_ROUTES.journal.output.parse(told)
    for (const remark of taken.remarks) terminal.err(remark)
    runs += taken.runs
  }
  terminal.out(`${counted(files.length, 'journal')} handed in; ${counted(runs, 'run')} new to the hub.`)
}

interface KnownHub {
  readonly origin: string
  readonly fingerprint: string
  readonly token: string
}

/** Lets the rig in when a code is given; else it is known from before. */
async function hubOf(terminal: Terminal, { to, fingerprint, code }: SendOptions): Promise<KnownHub> {
  const { origin } = new URL(to)
  const file = join(keysFolder(terminal.env), 'hubs.json')
  const known = readKnown(file)
  if (code === undefined) {
    const hub = known[origin]
    if (hub === undefined) throw new SpokenError({ code: 'not-paired', place: origin, message: 'this rig was not let in there.', mend: 'Take code and fingerprint from the hub\'s page, Lab, Devices: --code XXXX-XXXX --fingerprint "...".' })
    return { origin, ...hub }
  }
  if (fingerprint === undefined) throw new SpokenError({ code: 'no-fingerprint', message: 'a code needs the fingerprint beside it, or it might be told to a stranger.', mend: 'Copy it from the hub\'s page: --fingerprint "...".' })
  const token = await pairRig({ url: origin, fingerprint, code, name: hostname() })
  mkdirSync(keysFolder(terminal.env), { recursive: true, mode: 0o700 })
  writeFileSync(file, JSON.stringify({ ...known, [origin]: { fingerprint, token } }), { mode: 0o600 })
  return { origin, fingerprint, token }
}

/** By the hub's address, as this file's own writer left it; what it says is proved by the hub or refused there. */
function readKnown(file: string): Readonly<Record<string, Omit<KnownHub, 'origin'> | undefined>> {
  try {
    return JSON.parse(readFileSync(file, 'utf8')) as Readonly<Record<string, Omit<KnownHub, 'origin'>>>
  } catch {
    return {}
  }
}

function journalsAt(path: string): readonly string[] {
  if (!statSync(path).isDirectory()) return [path]
  return readdirSync(path, { recursive: true, encoding: 'utf8' }).filter((name) => extname(name) === '.journal').toSorted().map((name) => join(path, name))
}
