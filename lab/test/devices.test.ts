// Devices that were let in: found by the digest of their token until they are revoked.
import { describe, expect, it } from 'vitest'
import { newLab, reopen, testSources } from './support.ts'

const A = 'a'.repeat(64)
const B = 'b'.repeat(64)

describe('devices', () => {
  it('are found by the digest of their token, over a reopening too', async () => {
    const lab = newLab()
    const device = lab.devices.add({ name: 'phone of the north bench', tokenHash: A })
    expect(device).toMatchObject({ name: 'phone of the north bench', seen: null, revoked: null })
    await lab.close()
    const again = reopen(lab.folder)
    expect(again.devices.find(A)).toEqual(device)
    expect(again.devices.find(B)).toBeUndefined()
  })

  it('are found no more from the moment they are revoked, and stay in the list with that moment', () => {
    const lab = newLab()
    const first = lab.devices.add({ name: 'first', tokenHash: A })
    lab.devices.add({ name: 'second', tokenHash: B })
    const { revoked } = lab.devices.revoke(first.id)
    expect(revoked).not.toBeNull()
    expect(lab.devices.find(A)).toBeUndefined()
    expect(lab.devices.find(B)?.name).toBe('second')
    // Revoked once: the first moment counts.
    expect(lab.devices.revoke(first.id).revoked).toBe(revoked)
    expect(lab.devices.list().map(({ name }) => name)).toEqual(['second', 'first'])
  })

  it('are noted as seen at most once a minute', () => {
    let now = Date.parse('2026-11-05T08:00:00Z')
    const lab = newLab(testSources({ now: () => now }))
    const { id } = lab.devices.add({ name: 'phone', tokenHash: A })
    const seen = (): string | null | undefined => lab.devices.list()[0]?.seen
    lab.devices.saw(id)
    expect(seen()).toBe('2026-11-05T08:00:00.000Z')
    now += 59_000
    lab.devices.saw(id)
    expect(seen()).toBe('2026-11-05T08:00:00.000Z')
    now += 1000
    lab.devices.saw(id)
    expect(seen()).toBe('2026-11-05T08:01:00.000Z')
  })

  it('that are not there get a sentence', () => {
    expect(() => newLab().devices.revoke('00000000-0000-7000-8000-000000000000')).toThrow(expect.objectContaining({ code: 'no-device' }))
  })
})
