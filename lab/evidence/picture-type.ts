// What a file begins with decides whether a browser may be given it as a picture; what its sender called it does not.

export type PictureType = 'image/jpeg' | 'image/png' | 'image/gif' | 'image/webp'

/** Reads the first bytes; null for anything that is none of these. SVG is none: it may carry a program. */
export function pictureType(head: Uint8Array): PictureType | null {
  if (startsWith(head, [0xff, 0xd8, 0xff])) return 'image/jpeg'
  if (startsWith(head, [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a])) return 'image/png'
  if (startsWith(head, [0x47, 0x49, 0x46, 0x38])) return 'image/gif'
  if (startsWith(head, [0x52, 0x49, 0x46, 0x46]) && startsWith(head.subarray(RIFF_FORM), [0x57, 0x45, 0x42, 0x50])) return 'image/webp'
  return null
}

/** More than any of the marks needs. */
export const HEAD_BYTES = 16

/** RIFF: mark, length, then what the form is. */
const RIFF_FORM = 8

function startsWith(bytes: Uint8Array, mark: readonly number[]): boolean {
  return mark.every((byte, place) => bytes[place] === byte)
}
