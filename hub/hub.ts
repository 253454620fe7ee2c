// Starts the hub: takes the workspace's lock, listens on 127.0.0.1, and says how to get in.
import type { Server } from 'node:http'
import type { AddressInfo } from 'node:net'
import { createAdaptorServer } from '@hono/node-server'
import { takeHubLock, type Lab } from '@guardband/lab'
import { SpokenError } from '@guardband/model'
import { createAccess, randomSecret, type AccessSources } from './access.ts'
import { createApp } from './app.ts'
import { removeBeacon, writeBeacon } from './beacon.ts'
import { createCurrentLab } from './current-lab.ts'
import { createEventBus } from './event-bus.ts'
import { createEventStreams } from './event-stream.ts'
import { createSecondListener, type ListenAt } from './second/second-listener.ts'
import { createLiveRigs } from './live-rigs.ts'
import type { SwitchToExported } from './routes/moving.ts'
import { createWhenIdle } from './when-idle.ts'

export interface HubSources extends AccessSources {
  /** A line for the terminal: what went wrong inside. */
  readonly say: (line: string) => void
}

export interface HubOptions {
  /** Once the hub has started it owns the workspace and closes it; when it fails to, the caller does. */
  readonly lab: Lab
  readonly host: '127.0.0.1'
  /** 0 takes any free port. */
  readonly port: number
  /** Where the web build put the page. */
  readonly webFolder: string
  readonly sources: HubSources
  /** The name under which changes from the page stand in the change log. */
  readonly who: string
  /** The first one-time token, where the caller has to know it before; at least 32 characters. */
  readonly token?: string
  /** Where the second listener, for phones and rigs, keeps its certificate; without it there is none. */
  readonly keysFolder?: string
  /** Makes and opens a new workspace of this name. */
  readonly createOwnLab: (input: { readonly name: string; readonly currency: string }) => Promise<Lab>
  /** Makes and opens a new workspace from what an export gave; without it the page can't. */
  readonly openExported?: SwitchToExported
}

export interface Hub {
  /** Opens the page once, within ten minutes. */
  readonly url: string
  readonly port: number
  newOpenUrl(): string
  /** Turns the second listener on there, and returns what a phone opens. */
  listenForPhones(at: ListenAt): Promise<string>
  /** Serves another workspace from now on; the one before is closed when its last request ends. */
  switchLab(next: Lab): void
  close(): Promise<void>
}

export async function startHub(options: HubOptions): Promise<Hub> {
  const { sources, token } = options
  if (token !== undefined && token.length < 32) throw new RangeError(`token must have at least 32 characters; got ${token.length}`)
  const access = createAccess(sources, token)
  const beaconSecret = randomSecret(sources)
  const current = createCurrentLab(options.lab)
  const bus = createEventBus(options.lab, sources.say)
  const streams = createEventStreams(bus, () => current.lab().head())
  const live = createLiveRigs({ now: sources.now, tell: () => bus.rigs() })
  const second = createSecondListener({ current, bus, live, webFolder: options.webFolder, keysFolder: options.keysFolder, sources })
  let lock = takeHubLock(options.lab.folder)
  let port = options.port

  const openUrl = (secret: string): string => `http://127.0.0.1:${port}/open?token=${secret}`
  const newOpenUrl = (): string => openUrl(access.newToken())
  const switchLab = (next: Lab): void => {
    const nextLock = takeHubLock(next.folder)
    const left = current.lab()
    writeBeacon(next.folder, { port, pid: process.pid, secret: beaconSecret })
    current.replace(next)
    bus.follow(next)
    second.dropAll()
    live.forget()
    removeBeacon(left.folder, beaconSecret)
    lock.release()
    lock = nextLock
  }
  const switchToNew: (input: { readonly name: string; readonly currency: string }) => Promise<Lab> = async (input) => {
    const next = await options.createOwnLab(input)
    switchLab(next)
    return next
  }
  const switchToExported: SwitchToExported = async (input) => {
    if (options.openExported === undefined) throw new SpokenError({ code: 'no-own-folder', message: 'this hub has no folder for new workspaces.', mend: 'Import it with the command: npx guardband import FILE FOLDER.' })
    const opened = await options.openExported(input)
    switchLab(opened.lab)
    return opened
  }

  const whenIdle = createWhenIdle(() => void current.use((lab) => lab.warm()))
  const app = createApp({
    current, access, streams, newOpenUrl, beaconSecret, switchToNew, switchToExported, second, live, port: () => port, who: options.who, webFolder: options.webFolder, say: sources.say, watch: whenIdle.watch,
  })
  // Without a createServer option the adaptor makes a plain HTTP server.
  const server = createAdaptorServer({ fetch: app.fetch, overrideGlobalObjects: false }) as Server
  try {
    port = await listen(server, options)
    writeBeacon(options.lab.folder, { port, pid: process.pid, secret: beaconSecret })
  } catch (error) {
    server.close()
    lock.release()
    throw error
  }

  whenIdle.begin()
  let closing: Promise<void> | undefined
  const close = async (): Promise<void> => {
    const ended = new Promise<void>((resolve) => server.close(() => resolve()))
    whenIdle.cancel()
    streams.close()
    await second.turnOff()
    bus.close()
    server.closeIdleConnections()
    const patience = setTimeout(() => server.closeAllConnections(), CLOSE_MS)
    await ended
    clearTimeout(patience)
    const folder = current.lab().folder
    await current.close()
    removeBeacon(folder, beaconSecret)
    lock.release()
  }
  return {
    url: token === undefined ? newOpenUrl() : openUrl(token),
    port,
    newOpenUrl,
    listenForPhones: second.turnOn,
    switchLab,
    close: () => (closing ??= close()),
  }
}

/** Requests under way get this long when the hub closes. */
const CLOSE_MS = 2000

function listen(server: Server, { port, host }: Pick<HubOptions, 'port' | 'host'>): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => reject(portError(error, port)))
    server.listen(port, host, () => {
      // A server that listens on a port has an address of this shape.
      resolve((server.address() as AddressInfo).port)
    })
  })
}

function portError(error: NodeJS.ErrnoException, port: number): Error {
  const other = port < 65_535 ? port + 1 : port - 1
  if (error.code === 'EADDRINUSE') return new SpokenError({ code: 'port-taken', message: `port ${port} is taken by another program.`, mend: `Choose another: PORT=${other} npm start.` })
  if (error.code === 'EACCES') return new SpokenError({ code: 'port-refused', message: `this user may not listen on port ${port}.`, mend: `Choose one above 1023: PORT=4890 npm start.` })
  return error
}
