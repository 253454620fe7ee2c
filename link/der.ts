// Writes the few shapes of DER (X.690, section 8) that a self-signed certificate is made of.

/** Tag, length, content. */
export function der(tag: number, ...content: readonly Uint8Array[]): Buffer {
  const body = Buffer.concat(content)
  return Buffer.concat([Buffer.from([tag]), lengthOf(body.length), body])
}

export function sequence(...content: readonly Uint8Array[]): Buffer {
  return der(0x30, ...content)
}

/** A whole number at or above zero, given by its bytes. */
export function integer(bytes: Uint8Array): Buffer {
  const first = bytes.findIndex((byte) => byte !== 0)
  const shortest = first === -1 ? Buffer.from([0]) : Buffer.from(bytes.subarray(first))
  // A first bit that is set would mean a negative number.
  return der(0x02, shortest[0] >= 0x80 ? Buffer.concat([Buffer.from([0]), shortest]) : shortest)
}

export function objectIdentifier(dotted: string): Buffer {
  const [first = 0, second = 0, ...rest] = dotted.split('.').map(Number)
  return der(0x06, Buffer.from([first * 40 + second, ...rest].flatMap(base128)))
}

export function bitString(bytes: Uint8Array, unusedBits = 0): Buffer {
  return der(0x03, Buffer.from([unusedBits]), bytes)
}

export function octetString(bytes: Uint8Array): Buffer {
  return der(0x04, bytes)
}

export function utf8String(text: string): Buffer {
  return der(0x0c, Buffer.from(text, 'utf8'))
}

export const TRUE = der(0x01, Buffer.from([0xff]))

/** Two digits of the year until 2049, four from then on, as RFC 5280, section 4.1.2.5 wants it. */
export function time(milliseconds: number): Buffer {
  const text = new Date(milliseconds).toISOString().replace(/[-:T]/g, '').slice(0, 14)
  return Number(text.slice(0, 4)) < 2050 ? der(0x17, Buffer.from(`${text.slice(2)}Z`)) : der(0x18, Buffer.from(`${text}Z`))
}

function lengthOf(length: number): Buffer {
  if (length < 0x80) return Buffer.from([length])
  const bytes: number[] = []
  for (let rest = length; rest > 0; rest = Math.floor(rest / 256)) bytes.unshift(rest % 256)
  return Buffer.from([0x80 | bytes.length, ...bytes])
}

function base128(value: number): readonly number[] {
  const digits = [value % 128]
  for (let rest = Math.floor(value / 128); rest > 0; rest = Math.floor(rest / 128)) digits.unshift((rest % 128) | 0x80)
  return digits
}
