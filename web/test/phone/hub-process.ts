// A hub process of its own with its second listener on, over a workspace with a sheet: what a phone works with. Can be killed and started again.
import { spawn, type ChildProcess } from 'node:child_process'
import { join } from 'node:path'

export interface HubProcess {
  readonly phonesUrl: string
  readonly fingerprint: string
  /** A fresh pairing code. */
  readonly newCode: () => Promise<string>
  /** Revokes every device. */
  readonly revokeAll: () => Promise<void>
  readonly lab: () => Promise<LabDump>
  readonly kill: () => Promise<void>
}

/** What stands in the lab, as far as a phone can have put it there. */
export interface LabDump {
  readonly runs: readonly { readonly id: string; readonly startId: string; readonly workload: string; readonly outcome: string; readonly values: readonly number[]; readonly seconds: number | null; readonly note: string | null }[]
  readonly starts: readonly { readonly id: string; readonly result: string; readonly note: string | null }[]
  /** What each change says of itself, oldest first. */
  readonly changes: readonly string[]
  readonly pictures: readonly { readonly name: string; readonly bytes: number; readonly thumbnail: boolean }[]
  /** Sentences of the check; none when all is sound. */
  readonly findings: readonly string[]
}

/** Serves the workspace on this port; the first time, 0 takes any. The page is the one built into `webFolder`. */
export async function startHubProcess(folder: string, options: { readonly webFolder: string; readonly port: number; readonly starts?: number }): Promise<HubProcess> {
  const child = spawn(process.execPath, ['--disable-warning=ExperimentalWarning', HUB, folder, options.webFolder, String(options.port), String(options.starts ?? 6)], { stdio: ['pipe', 'pipe', 'pipe'] })
  let errors = ''
  child.stderr.on('data', (part: Buffer) => (errors += part.toString()))
  const lines = lineReader(child)
  const first = await Promise.race([
    lines(),
    new Promise<never>((_resolve, reject) => child.once('exit', () => reject(new Error(`the hub must start; got: ${errors}`)))),
  ])
  const { phonesUrl, fingerprint } = JSON.parse(first) as { readonly phonesUrl: string; readonly fingerprint: string }
  const ask = async (what: string): Promise<string> => {
    child.stdin.write(`${what}\n`)
    return lines()
  }
  return {
    phonesUrl,
    fingerprint,
    newCode: () => ask('code'),
    revokeAll: async () => void (await ask('revoke')),
    lab: async () => JSON.parse(await ask('dump')) as LabDump,
    kill: () =>
      new Promise((resolve) => {
        child.once('exit', () => resolve())
        child.kill('SIGKILL')
      }),
  }
}

/** The page may not import a hub; its tests start one as a person does. */
const HUB = join(import.meta.dirname, '..', '..', '..', 'cli', 'test', 'phone-hub.ts')

function lineReader(child: ChildProcess): () => Promise<string> {
  const ready: string[] = []
  const asking: ((line: string) => void)[] = []
  let text = ''
  child.stdout?.on('data', (part: Buffer) => {
    text += part.toString()
    for (let end = text.indexOf('\n'); end !== -1; end = text.indexOf('\n')) {
      const line = text.slice(0, end)
      text = text.slice(end + 1)
      const next = asking.shift()
      if (next === undefined) ready.push(line)
      else next(line)
    }
  })
  return () => {
    const line = ready.shift()
    return line === undefined ? new Promise((resolve) => asking.push(resolve)) : Promise.resolve(line)
  }
}
