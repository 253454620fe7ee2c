// `rig companion`: watches over a rig from a second machine.
import { createInterface } from 'node:readline'
import { userInfo } from 'node:os'
import { dirname, join, resolve } from 'node:path'
import { lanAddresses } from '@guardband/link/addresses'
import { SpokenError } from '@guardband/model'
import { createApprovalCheck, readApprovals } from '../approval-store.ts'
import { readWatchFile } from '../companion/read-watch.ts'
import { runCompanion } from '../companion/run-companion.ts'
import { createFileHasher } from '../file-hash.ts'
import { nodeDisk } from '../journal-disk.ts'
import { plainText } from '../plain-text.ts'
import { slugOf } from '../rig-folder.ts'
import { pushOwnLater } from '../sync/commands.ts'
import type { Terminal } from '../terminal.ts'
import { EXIT } from './exit.ts'
import { approvalsFile, baseEnvironment, machineSources, refuseRoot } from './plan-file.ts'

export interface CompanionArgs {
  readonly watchFile: string
  /** ADDRESS:PORT, an address, or a port. */
  readonly listen: string | undefined
  readonly folder: string | undefined
  readonly asRoot: boolean
  readonly signal: AbortSignal
}

export const COMPANION_PORT = 4892

export async function companion({ watchFile, listen, folder, asRoot, signal }: CompanionArgs, terminal: Terminal): Promise<number> {
  refuseRoot(asRoot)
  const watch = readWatchFile(watchFile)
  const planFolder = dirname(resolve(watchFile))
  const own = folder === undefined ? join(planFolder, `companion-${slugOf(watch.id)}`) : resolve(folder)
  const approvals = createApprovalCheck({ store: readApprovals(approvalsFile()), planFolder, base: baseEnvironment(), hash: createFileHasher() })
  // All before the first: an action that would be refused in the night is refused now.
  for (const { command } of watch.actions) approvals(command)
  const { address, port } = addressOf(listen)
  const sources = machineSources()
  const { push, close } = pushOwnLater(join(own, 'journals'), sources, terminal)
  const lines = createInterface({ input: process.stdin })
  try {
    await runCompanion({
      watch, folder: own, keysFolder: join(own, 'keys'), address, port, sources, disk: nodeDisk, approvals, signal, who: userInfo().username,
      say: (line) => terminal.say(plainText(line)), lines, onSaw: push,
    })
  } finally {
    lines.close()
    await close()
  }
  return EXIT.well
}

function addressOf(listen: string | undefined): { readonly address: string; readonly port: number } {
  const parts = /^(?:(\d{1,3}(?:\.\d{1,3}){3}))?(?::?(\d{1,5}))?$/.exec(listen ?? '')
  const port = Number(parts?.[2] ?? COMPANION_PORT)
  if (parts === null || port > 65_535) throw new SpokenError({ code: 'companion-address', message: `--listen takes ADDRESS:PORT, an address or a port; got "${(listen ?? '').slice(0, 60)}".`, mend: `Such as --listen 192.168.1.21:${COMPANION_PORT}.` })
  return { address: parts[1] ?? lanAddresses()[0] ?? '127.0.0.1', port }
}
