// The second listener's certificate: made once on a machine and kept with its key, so that what a phone or rig accepted at pairing stays what it sees.
import { createHash, createPrivateKey, generateKeyPairSync, sign, X509Certificate } from 'node:crypto'
import { chmodSync, closeSync, fsyncSync, mkdirSync, openSync, readFileSync, renameSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { bitString, der, integer, objectIdentifier, octetString, sequence, time, TRUE, utf8String } from './der.ts'

export interface ListenerCertificate {
  /** PEM. */
  readonly certificate: string
  /** PEM. */
  readonly key: string
  /** SHA-256 of the certificate, as 64 hex digits. */
  readonly fingerprint: string
  /** It holds until then, as an ISO moment. */
  readonly until: string
}

export interface CertificateSources {
  readonly now: () => number
  readonly fillRandom: (bytes: Uint8Array) => void
}

/** The one kept in this folder; where there is none, or its time is over, a new one. Later addresses don't change it: it is known by its fingerprint. */
export function keepCertificate(folder: string, addresses: readonly string[], sources: CertificateSources): ListenerCertificate {
  const kept = readKept(folder)
  if (kept !== undefined && Date.parse(kept.until) > sources.now()) return kept
  const made = makeCertificate(addresses, sources)
  mkdirSync(folder, { recursive: true, mode: 0o700 })
  writeOwn(join(folder, FILE), `${made.key}${made.certificate}`)
  return made
}

/** ECDSA on P-256 with SHA-256, signed by itself, for these IPv4 addresses. */
export function makeCertificate(addresses: readonly string[], { now, fillRandom }: CertificateSources): ListenerCertificate {
  const { privateKey, publicKey } = generateKeyPairSync('ec', { namedCurve: 'prime256v1' })
  const name = sequence(der(SET, sequence(objectIdentifier('2.5.4.3'), utf8String('Guardband, second listener'))))
  const serial = new Uint8Array(16)
  fillRandom(serial)
  const algorithm = sequence(objectIdentifier('1.2.840.10045.4.3.2'))
  const from = now() - CLOCK_SLACK_MS
  const body = sequence(
    der(CONTEXT_0, integer(Buffer.from([2]))),
    integer(serial),
    algorithm,
    name,
    sequence(time(from), time(from + LIFE_MS)),
    name,
    publicKey.export({ type: 'spki', format: 'der' }),
    der(CONTEXT_3, sequence(...extensionsFor(addresses))),
  )
  const whole = sequence(body, algorithm, bitString(sign('sha256', body, privateKey)))
  const certificate = `-----BEGIN CERTIFICATE-----\n${(whole.toString('base64').match(/.{1,64}/g) ?? []).join('\n')}\n-----END CERTIFICATE-----\n`
  return described(certificate, privateKey.export({ type: 'pkcs8', format: 'pem' }).toString())
}

/** Of a certificate's DER bytes. */
export function fingerprintOf(derBytes: Uint8Array): string {
  return createHash('sha256').update(derBytes).digest('hex')
}

/** Phones refuse a certificate that claims to hold for longer than 825 days. */
const LIFE_MS = 820 * 24 * 3600 * 1000
/** A phone whose clock is behind must not find it made in the future. */
const CLOCK_SLACK_MS = 24 * 3600 * 1000

const FILE = 'second-listener.pem'

const SET = 0x31
const CONTEXT_0 = 0xa0
const CONTEXT_3 = 0xa3
// RFC 5280, section 4.2.1.6: the iPAddress of a GeneralName.
const IP_ADDRESS = 0x87

// RFC 5280, section 4.2.1: names (6), basic constraints (9), key usage (3), extended key usage (12).
function extensionsFor(addresses: readonly string[]): readonly Buffer[] {
  const names = addresses.map((address) => der(IP_ADDRESS, Buffer.from(address.split('.').map(Number))))
  return [
    sequence(objectIdentifier('2.5.29.17'), octetString(sequence(...names))),
    sequence(objectIdentifier('2.5.29.19'), TRUE, octetString(sequence())),
    // Digital signature, the first of the bits.
    sequence(objectIdentifier('2.5.29.15'), TRUE, octetString(bitString(Buffer.from([0x80]), 7))),
    sequence(objectIdentifier('2.5.29.37'), octetString(sequence(objectIdentifier('1.3.6.1.5.5.7.3.1')))),
  ]
}

function described(certificate: string, key: string): ListenerCertificate {
  const parsed = new X509Certificate(certificate)
  return { certificate, key, fingerprint: fingerprintOf(parsed.raw), until: new Date(parsed.validTo).toISOString() }
}

/** What can't be read as a key and its certificate is as good as none. */
function readKept(folder: string): ListenerCertificate | undefined {
  try {
    const text = readFileSync(join(folder, FILE), 'utf8')
    const at = text.indexOf('-----BEGIN CERTIFICATE-----')
    const kept = described(text.slice(at), text.slice(0, at))
    // Another program may have widened its rights since.
    chmodSync(join(folder, FILE), 0o600)
    return new X509Certificate(kept.certificate).checkPrivateKey(createPrivateKey(kept.key)) ? kept : undefined
  } catch {
    return undefined
  }
}

/** Whole or not at all, and never readable for others. */
function writeOwn(path: string, text: string): void {
  const draft = `${path}.${process.pid}`
  const file = openSync(draft, 'w', 0o600)
  try {
    writeSync(file, text)
    fsyncSync(file)
  } finally {
    closeSync(file)
  }
  renameSync(draft, path)
}
