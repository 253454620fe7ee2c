// The certificate, as OpenSSL and Node read it.
import { execFileSync } from 'node:child_process'
import { X509Certificate } from 'node:crypto'
import { mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { keepCertificate, makeCertificate } from '../certificate.ts'
import { integer, objectIdentifier, octetString, time } from '../der.ts'
import { realSources } from './real-sources.ts'

const root = mkdtempSync(join(tmpdir(), 'guardband-certificate-'))
afterAll(() => rmSync(root, { recursive: true, force: true }))
const DAY = 24 * 3600 * 1000

describe('DER', () => {
  it('writes what X.690 gives as examples and asks for', () => {
    // 8.19.5: {2 100 3}
    expect(objectIdentifier('2.100.3').toString('hex')).toBe('0603813403')
    // 8.3.2: the shortest form, and never negative.
    expect(integer(Buffer.from([0, 0, 0x7f])).toString('hex')).toBe('02017f')
    expect(integer(Buffer.from([0x80])).toString('hex')).toBe('02020080')
    expect(integer(Buffer.from([0])).toString('hex')).toBe('020100')
    // 8.1.3: one byte of length up to 127, then the length of the length.
    expect(octetString(Buffer.alloc(127)).subarray(0, 2).toString('hex')).toBe('047f')
    expect(octetString(Buffer.alloc(128)).subarray(0, 3).toString('hex')).toBe('048180')
    expect(octetString(Buffer.alloc(300)).subarray(0, 4).toString('hex')).toBe('0482012c')
    // RFC 5280, 4.1.2.5: two digits of the year until 2049.
    expect(time(Date.parse('2049-12-31T23:59:59Z')).toString('latin1').slice(2)).toBe('491231235959Z')
    expect(time(Date.parse('2050-01-01T00:00:00Z')).toString('latin1').slice(2)).toBe('20500101000000Z')
  })
})

describe('the certificate', () => {
  it('is taken by OpenSSL in its strict mode, as a server of the addresses it names', () => {
    const { certificate, fingerprint } = makeCertificate(['192.168.1.20', '127.0.0.1'], realSources())
    const file = join(root, 'made.pem')
    writeFileSync(file, certificate)
    const verified = execFileSync('openssl', ['verify', '-x509_strict', '-purpose', 'sslserver', '-verify_ip', '192.168.1.20', '-CAfile', file, file], { encoding: 'utf8' })
    expect(verified).toContain('OK')
    const text = execFileSync('openssl', ['x509', '-in', file, '-noout', '-text', '-fingerprint', '-sha256'], { encoding: 'utf8' })
    expect(text).toContain('NIST CURVE: P-256')
    expect(text).toContain('ecdsa-with-SHA256')
    expect(text).toContain('IP Address:192.168.1.20, IP Address:127.0.0.1')
    expect(text).toContain('CA:FALSE')
    expect(text.replaceAll(':', '').toLowerCase()).toContain(fingerprint)
  })

  it('holds for longer than two years, and for less than phones refuse', () => {
    const parsed = new X509Certificate(makeCertificate(['127.0.0.1'], realSources()).certificate)
    const days = (Date.parse(parsed.validTo) - Date.parse(parsed.validFrom)) / DAY
    expect(days).toBeGreaterThan(730)
    expect(days).toBeLessThanOrEqual(825)
  })

  it('is made once and kept, with its key, for its owner only; another address does not change it', () => {
    const folder = join(root, 'kept')
    const first = keepCertificate(folder, ['10.0.0.1'], realSources())
    expect(keepCertificate(folder, ['10.0.0.2'], realSources())).toEqual(first)
    expect(statSync(join(folder, 'second-listener.pem')).mode & 0o777).toBe(0o600)
    expect(statSync(folder).mode & 0o777).toBe(0o700)
    expect(keepCertificate(join(root, 'other'), ['10.0.0.1'], realSources()).fingerprint).not.toBe(first.fingerprint)
  })

  it('is made anew when its time is over or the file is no key with its certificate', () => {
    const folder = join(root, 'old')
    const first = keepCertificate(folder, ['10.0.0.1'], realSources())
    const second = keepCertificate(folder, ['10.0.0.1'], realSources(() => Date.now() + 821 * DAY))
    expect(second.fingerprint).not.toBe(first.fingerprint)
    writeFileSync(join(folder, 'second-listener.pem'), `${first.key}${second.certificate}`)
    const third = keepCertificate(folder, ['10.0.0.1'], realSources())
    expect([first.fingerprint, second.fingerprint]).not.toContain(third.fingerprint)
  })
})
