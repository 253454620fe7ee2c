// CRC-32C (Castagnoli, reflected polynomial 0x82F63B78; RFC 3720 section B.4), bytewise by table.

/** CRC-32C of the bytes, as an unsigned 32-bit number. crc32c of the ASCII digits 123456789 is 0xE3069283. */
export function crc32c(bytes: Uint8Array): number {
  let crc = 0xffffffff
  for (const byte of bytes) crc = (TABLE[(crc ^ byte) & 0xff] ^ (crc >>> 8)) >>> 0
  return (crc ^ 0xffffffff) >>> 0
}

const POLYNOMIAL = 0x82f63b78
const TABLE = Uint32Array.from({ length: 256 }, (_, index) => {
  let value = index
  for (let bit = 0; bit < 8; bit++) value = value & 1 ? (value >>> 1) ^ POLYNOMIAL : value >>> 1
  return value >>> 0
})
