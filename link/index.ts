// The door between machines: a certificate of one's own, pairing by a short-lived code, TLS, and a client that pins.
export * from './addresses.ts'
export * from './certificate.ts'
export * from './pairing.ts'
export * from './pinned-client.ts'
export * from './tls-server.ts'
