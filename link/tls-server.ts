// HTTPS on one address: TLS 1.3 only, few connections an address, short patience with the slow, and a sentence for whoever speaks plain HTTP.
import type { Server as HttpsServer, ServerOptions } from 'node:https'
import type { AddressInfo, Server, Socket } from 'node:net'
import { SpokenError } from '@guardband/model'
import type { ListenerCertificate } from './certificate.ts'

export interface TlsServer {
  readonly port: number
  close(): Promise<void>
}

export interface TlsServerOptions {
  readonly address: string
  /** 0 takes any free port. */
  readonly port: number
  readonly certificate: Pick<ListenerCertificate, 'certificate' | 'key'>
  /** Makes the server with these options and its own way of replying; it must not listen yet. */
  readonly makeServer: (options: ServerOptions) => HttpsServer
  readonly patience?: Partial<Patience>
}

/** How long a connection may take, in milliseconds. */
export interface Patience {
  /** From the connection to the end of the TLS handshake. */
  readonly handshake: number
  /** From the first byte of a request to the end of its headers. */
  readonly headers: number
  /** To the end of its body: a picture over a weak radio takes its time. */
  readonly request: number
  /** Between two requests. */
  readonly idle: number
}

/** A browser opens six; a phone and a rig may share an address behind a router. */
export const CONNECTIONS_AN_ADDRESS = 24
export const CONNECTIONS_IN_ALL = 200

export async function startTlsServer({ address, port, certificate, makeServer, patience: given }: TlsServerOptions): Promise<TlsServer> {
  const patience = { ...PATIENCE, ...given }
  const https = makeServer({
    cert: certificate.certificate, key: certificate.key, minVersion: 'TLSv1.3', handshakeTimeout: patience.handshake,
    headersTimeout: patience.headers, requestTimeout: patience.request, keepAliveTimeout: patience.idle, connectionsCheckingInterval: CHECK_MS, maxHeaderSize: HEADER_BYTES,
  })
  https.maxHeadersCount = HEADERS
  // A peer that breaks off is no event, and one that speaks no TLS has been dealt with.
  https.on('tlsClientError', (_error, socket) => socket.destroy())
  const open = new Map<string, number>()
  const sockets = new Set<Socket>()
  // In front of what node:tls does with a connection. The server itself listens, or nothing would look after its time limits.
  const goOn = https.listeners('connection')
  https.removeAllListeners('connection')
  https.on('connection', (socket: Socket) => {
    const from = socket.remoteAddress ?? ''
    const count = open.get(from) ?? 0
    socket.on('error', () => socket.destroy())
    if (count >= CONNECTIONS_AN_ADDRESS || sockets.size >= CONNECTIONS_IN_ALL) return void socket.destroy()
    open.set(from, count + 1)
    sockets.add(socket)
    socket.once('close', () => {
      sockets.delete(socket)
      const left = (open.get(from) ?? 1) - 1
      if (left === 0) open.delete(from)
      else open.set(from, left)
    })
    handOn(socket, patience.handshake, () => goOn.forEach((listener) => void listener.call(https, socket)))
  })
  const taken = await listen(https, { address, port })
  let closing: Promise<void> | undefined
  return {
    port: taken,
    close: () =>
      (closing ??= new Promise<void>((resolve) => {
        https.close(() => resolve())
        https.closeAllConnections()
        for (const socket of sockets) socket.destroy()
      })),
  }
}

const PATIENCE: Patience = { handshake: 10_000, headers: 10_000, request: 120_000, idle: 30_000 }
const CHECK_MS = 1000
const HEADER_BYTES = 8 * 1024
const HEADERS = 60

/** The first byte of a TLS connection is that of a handshake record (RFC 8446, section 5.1). */
const HANDSHAKE = 0x16

function handOn(socket: Socket, patience: number, goOn: () => void): void {
  socket.setTimeout(patience, () => socket.destroy())
  socket.once('data', (first: Buffer) => {
    socket.setTimeout(0)
    socket.removeAllListeners('timeout')
    socket.pause()
    if (first[0] !== HANDSHAKE) return void socket.end(PLAIN)
    socket.unshift(first)
    goOn()
  })
}

const SENTENCE = 'This port speaks HTTPS only: open the address with https:// in front.\n'
const PLAIN = `HTTP/1.1 400 Bad Request\r\nContent-Type: text/plain; charset=utf-8\r\nContent-Length: ${SENTENCE.length}\r\nX-Content-Type-Options: nosniff\r\nCache-Control: no-store\r\nConnection: close\r\n\r\n${SENTENCE}`

function listen(server: Server, { address, port }: { readonly address: string; readonly port: number }): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => reject(listenError(error, address, port)))
    // A server that listens on a port has an address of this shape.
    server.listen(port, address, () => resolve((server.address() as AddressInfo).port))
  })
}

function listenError(error: NodeJS.ErrnoException, address: string, port: number): Error {
  if (error.code === 'EADDRINUSE') return new SpokenError({ code: 'port-taken', message: `port ${port} of ${address} is taken by another program.`, mend: `Choose another, such as ${port < 65_535 ? port + 1 : port - 1}.` })
  if (error.code === 'EACCES') return new SpokenError({ code: 'port-refused', message: `this user may not listen on port ${port}.`, mend: 'Choose one above 1023.' })
  if (error.code === 'EADDRNOTAVAIL') return new SpokenError({ code: 'address-gone', message: `this machine has no address ${address} any more.`, mend: 'Choose one that it has.' })
  return error
}
