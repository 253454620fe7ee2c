// A real hub over a real workspace in a folder of its own, with a clock that tests can move.
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { addAbortSignal, Readable } from 'node:stream'
import { createLab, importInThread, keepStream, openLab, type Lab, type LabSources } from '@guardband/lab'
import { createIdFactory } from '@guardband/model'
import { startHub, type Hub } from '../index.ts'
import { enter, pageHeaders, send, type Reply } from './client.ts'
import { sampleLab, type SampleLab } from './sample-lab.ts'

export interface TestHub {
  readonly hub: Hub
  readonly lab: Lab
  readonly sample: SampleLab
  readonly root: string
  /** Lines that the hub wrote for its terminal. */
  readonly said: readonly string[]
  /** Moves the hub's clock. */
  readonly wait: (milliseconds: number) => void
  /** A session's cookie, made through the door. */
  readonly cookie: () => Promise<string>
  readonly get: (path: string, headers?: Readonly<Record<string, string>>) => Promise<Reply>
  readonly post: (path: string, body?: unknown, headers?: Readonly<Record<string, string>>) => Promise<Reply>
  readonly end: () => Promise<void>
}

export function testSources(now: () => number = () => Date.now()): LabSources & { readonly fillRandom: (bytes: Uint8Array) => void } {
  return { now, fillRandom, newId: createIdFactory({ now, fillRandom }) }
}

function fillRandom(bytes: Uint8Array): void {
  crypto.getRandomValues(bytes)
}

export async function startTestHub(options: { readonly partName?: string; readonly token?: string; readonly answerWorker?: URL } = {}): Promise<TestHub> {
  const root = mkdtempSync(join(tmpdir(), 'guardband-hub-'))
  let ahead = 0
  const sources = { ...testSources(() => Date.now() + ahead), ...(options.answerWorker === undefined ? {} : { answerWorker: options.answerWorker }) }
  const said: string[] = []
  const lab = createLab(join(root, 'lab'), { name: 'Hollin & Pike', currency: 'EUR', simulated: true }, sources)
  const sample = sampleLab(sources.newId, options.partName ?? 'Quillon 14')
  lab.apply({ who: 'test', what: 'sample records', items: sample.items })
  writeWeb(join(root, 'web'))
  const hub = await startHub({
    lab,
    host: '127.0.0.1',
    port: 0,
    webFolder: join(root, 'web'),
    sources: { ...sources, say: (line) => said.push(line) },
    who: 'tester',
    keysFolder: join(root, 'keys'),
    createOwnLab: ({ name, currency }) => Promise.resolve(createLab(join(root, 'own', name), { name, currency }, sources)),
    openExported: async ({ pieces, file, signal, onProgress }) => {
      const received = join(root, 'received')
      rmSync(received, { force: true })
      await keepStream(addAbortSignal(signal, Readable.from(pieces)), received)
      const imported = await importInThread({ file: received, shown: file, into: join(root, 'own', 'imported'), who: 'tester' }, { signal, onProgress })
      return { lab: openLab(imported.folder, sources), imported }
    },
    ...(options.token === undefined ? {} : { token: options.token }),
  })
  let session: Promise<string> | undefined
  const cookie = (): Promise<string> => (session ??= enter(hub.port, hub.newOpenUrl()))
  const host = { host: `127.0.0.1:${hub.port}` }
  return {
    hub, lab, sample, root, said, cookie,
    wait: (milliseconds) => (ahead += milliseconds),
    get: async (path, headers = {}) => send(hub.port, path, { headers: { ...host, cookie: await cookie(), ...headers } }),
    post: async (path, body, headers = {}) =>
      send(hub.port, path, { method: 'POST', headers: { ...host, ...pageHeaders(hub.port, await cookie()), ...headers }, ...(body === undefined ? {} : { body: typeof body === 'string' || body instanceof Uint8Array ? body : JSON.stringify(body) }) }),
    end: async () => {
      await hub.close()
      rmSync(root, { recursive: true, force: true })
    },
  }
}

function writeWeb(folder: string): void {
  mkdirSync(join(folder, 'assets'), { recursive: true })
  writeFileSync(join(folder, 'index.html'), '<!doctype html><title>page</title>')
  writeFileSync(join(folder, 'assets', 'main-4f2a.js'), 'export const page = 1\n')
  writeFileSync(join(folder, 'assets', 'main-4f2a.js.br'), 'packed')
  writeFileSync(join(folder, 'assets', 'large-77aa.css'), 'a{color:#123456}\n'.repeat(1000))
  writeFileSync(join(folder, '..', 'secret.html'), 'outside')
}
