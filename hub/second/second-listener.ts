// The second listener, for phones and rigs: off until a person turns it on, with its pairing and what it says of itself.
import type { Hono } from 'hono'
import { SpokenError, type ListenerState } from '@guardband/model'
import type { CurrentLab } from '../current-lab.ts'
import type { LiveRigs } from '../live-rigs.ts'
import type { EventBus } from '../event-bus.ts'
import { fetchServer } from './fetch-server.ts'
import { createEventStreams } from '../event-stream.ts'
import { lanAddresses } from '@guardband/link/addresses'
import { createSecondApp } from './app.ts'
import { keepCertificate, type ListenerCertificate } from '@guardband/link/certificate'
import { createPairing, type Pairing } from '@guardband/link/pairing'
import { startTlsServer, type TlsServer } from '@guardband/link/tls-server'

export const SECOND_PORT = 4891

export interface ListenAt {
  readonly address: string
  /** 0 takes any free port. */
  readonly port: number
}

export interface SecondListener {
  readonly state: () => ListenerState
  /** Listens there and nowhere else; where it listens already, it moves. Returns what a phone opens. */
  readonly turnOn: (at: ListenAt) => Promise<string>
  readonly turnOff: () => Promise<void>
  readonly pairing: Pairing
  /** Ends what a device has open. */
  readonly drop: (deviceId: string) => void
  /** Ends what all devices have open: another workspace is served now, which let in others. */
  readonly dropAll: () => void
}

export interface SecondNeeds {
  readonly current: CurrentLab
  readonly bus: EventBus
  readonly live: LiveRigs
  readonly webFolder: string
  /** Where its certificate and key are kept. Without it there is no second listener. */
  readonly keysFolder: string | undefined
  readonly sources: { readonly now: () => number; readonly fillRandom: (bytes: Uint8Array) => void; readonly say: (line: string) => void }
}

export function createSecondListener(needs: SecondNeeds): SecondListener {
  const { current, sources } = needs
  const pairing = createPairing(sources)
  const streams = createEventStreams(needs.bus, () => current.lab().head(), (event) => event.type !== 'answer')
  let running: { readonly server: TlsServer; readonly address: string; readonly certificate: ListenerCertificate } | undefined
  let turning: Promise<unknown> = Promise.resolve()

  const port = (): number => running?.server.port ?? 0
  const hosts = (): readonly string[] => (running === undefined ? [] : hostsOf(running.address, port()))
  const app: Hono = createSecondApp({ current, live: needs.live, pairing, port, sources, hosts, streams, webFolder: needs.webFolder, say: sources.say })

  const off = async (): Promise<void> => {
    const { server } = running ?? {}
    running = undefined
    pairing.close()
    streams.close()
    await server?.close()
  }
  const on = async ({ address, port: wanted }: ListenAt): Promise<string> => {
    if (needs.keysFolder === undefined) throw new SpokenError({ code: 'no-second-listener', message: 'this hub was started without a place to keep a certificate.', mend: 'Start it with "npx guardband start".' })
    const own = lanAddresses()
    if (!own.includes(address) && address !== LOOPBACK) {
      throw new SpokenError({ code: 'foreign-address', message: `the address must be one of this machine: ${own.length === 0 ? 'it has none on a network' : own.join(', ')}; got ${address.slice(0, 60)}.` })
    }
    await off()
    const certificate = keepCertificate(needs.keysFolder, [...own, LOOPBACK], sources)
    const server = await startTlsServer({ address, port: wanted, certificate, makeServer: fetchServer(app.fetch) })
    running = { server, address, certificate }
    return urlOf(running)
  }
  /** One turn after the other, whoever asks. */
  const inTurn = <Out>(work: () => Promise<Out>): Promise<Out> => {
    const mine = turning.then(work)
    turning = mine.catch(() => undefined)
    return mine
  }
  return {
    state: () =>
      running === undefined
        ? { state: 'off', addresses: [...lanAddresses()], port: SECOND_PORT }
        : { state: 'on', url: urlOf(running), fingerprint: running.certificate.fingerprint, until: running.certificate.until },
    turnOn: (at) => inTurn(() => on(at)),
    turnOff: () => inTurn(off),
    pairing,
    drop: (deviceId) => {
      streams.closeOf(deviceId)
      needs.live.drop(deviceId)
    },
    dropAll: () => {
      pairing.close()
      streams.close()
    },
  }
}

function urlOf({ address, server }: { readonly address: string; readonly server: TlsServer }): string {
  return `https://${address}:${server.port}/`
}

/** For the end of a tunnel, and for trying it out on the machine itself. */
const LOOPBACK = '127.0.0.1'

/** Port 443 is left out by browsers. */
function hostsOf(address: string, port: number): readonly string[] {
  return [`${address}:${port}`, ...(port === 443 ? [address] : [])]
}
