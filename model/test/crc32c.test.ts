// CRC-32C against the published examples.
import { expect, test } from 'vitest'
import { crc32c } from '../crc32c.ts'

// RFC 3720 (iSCSI), appendix B.4 prints the check bytes in the order of transmission, least significant first; here as numbers.
test.each([
  ['32 bytes of zeros', Uint8Array.from({ length: 32 }, () => 0), [0xaa, 0x36, 0x91, 0x8a]],
  ['32 bytes of ones', Uint8Array.from({ length: 32 }, () => 0xff), [0x43, 0xab, 0xa8, 0x62]],
  ['32 bytes rising', Uint8Array.from({ length: 32 }, (_, index) => index), [0x4e, 0x79, 0xdd, 0x46]],
  ['32 bytes falling', Uint8Array.from({ length: 32 }, (_, index) => 31 - index), [0x5c, 0xdb, 0x3f, 0x11]],
  [
    'an iSCSI read command',
    Uint8Array.from([
      0x01, 0xc0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0x14, 0, 0, 0, 0, 0, 0x04, 0, 0, 0, 0, 0x14, 0, 0, 0, 0x18, 0x28, 0, 0, 0, 0, 0, 0, 0, 0x02, 0, 0, 0, 0, 0, 0, 0,
    ]),
    [0x56, 0x3a, 0x96, 0xd9],
  ],
])('%s check as RFC 3720 B.4 says', (_, bytes, transmitted) => {
  expect(crc32c(bytes)).toBe(new DataView(Uint8Array.from(transmitted).buffer).getUint32(0, true))
})

test('the digits 123456789 check as 0xE3069283', () => {
  expect(crc32c(new TextEncoder().encode('123456789'))).toBe(0xe3069283)
})
