// Memory modules out of a machine's SMBIOS table, structure type 17 (DMTF DSP0134, section 7.18).

export interface MemoryModule {
  /** Where it sits, as the board names it. */
  readonly locator: string
  /** MiB; null where the table doesn't know. */
  readonly size: number | null
  /** MT/s that it is made for, and that it runs at; null where the table doesn't know. */
  readonly speed: number | null
  readonly configuredSpeed: number | null
  readonly maker: string
  readonly part: string
}

/** The modules that are there; empty sockets are left out. A table that breaks off yields what came before. */
export function memoryModules(table: Uint8Array): readonly MemoryModule[] {
  const modules: MemoryModule[] = []
  const view = new DataView(table.buffer, table.byteOffset, table.byteLength)
  for (let at = 0; at + HEADER <= table.length; ) {
    const type = table[at]
    const length = table[at + 1]
    if (length < HEADER || at + length > table.length) break
    const texts = textsAfter(table, at + length)
    if (type === MEMORY_DEVICE) modules.push(...moduleOf(new DataView(view.buffer, view.byteOffset + at, length), texts.list))
    if (type === END_OF_TABLE) break
    at = texts.end
  }
  return modules
}

/** Section 6.1.2: type, length, handle. */
const HEADER = 4
const MEMORY_DEVICE = 17
const END_OF_TABLE = 127

/** Offsets in the structure (table 76). */
const SIZE = 0x0c
const LOCATOR = 0x10
const SPEED = 0x15
const MAKER = 0x17
const PART = 0x1a
const EXTENDED_SIZE = 0x1c
const CONFIGURED_SPEED = 0x20
const EXTENDED_SPEED = 0x54
const EXTENDED_CONFIGURED_SPEED = 0x58

const UNKNOWN = 0xffff
/** A size of this says that the extended field holds it. */
const SEE_EXTENDED = 0x7fff
const KIB_UNITS = 0x8000

function moduleOf(device: DataView, texts: readonly string[]): readonly MemoryModule[] {
  const raw = word(device, SIZE)
  if (raw === null || raw === 0) return []
  const size = raw === UNKNOWN ? null : raw === SEE_EXTENDED ? double(device, EXTENDED_SIZE) : (raw & KIB_UNITS) === 0 ? raw : (raw & ~KIB_UNITS) / 1024
  return [{
    locator: text(device, LOCATOR, texts),
    size,
    speed: speed(device, SPEED, EXTENDED_SPEED),
    configuredSpeed: speed(device, CONFIGURED_SPEED, EXTENDED_CONFIGURED_SPEED),
    maker: text(device, MAKER, texts),
    part: text(device, PART, texts),
  }]
}

/** 0 means unknown, FFFFh that the extended field holds it. */
function speed(device: DataView, offset: number, extended: number): number | null {
  const value = word(device, offset)
  return value === 0 || value === null ? null : value === UNKNOWN ? double(device, extended) : value
}

function word(device: DataView, offset: number): number | null {
  return offset + 2 <= device.byteLength ? device.getUint16(offset, true) : null
}

function double(device: DataView, offset: number): number | null {
  return offset + 4 <= device.byteLength ? device.getUint32(offset, true) & 0x7fffffff : null
}

/** Texts are told by their number from 1; 0 is none. */
function text(device: DataView, offset: number, texts: readonly string[]): string {
  const number = offset < device.byteLength ? device.getUint8(offset) : 0
  return number === 0 ? '' : (texts[number - 1] ?? '').trim()
}

/** The texts behind a structure: each ends with a zero, all of them with another (section 6.1.3). */
function textsAfter(table: Uint8Array, from: number): { readonly list: readonly string[]; readonly end: number } {
  const list: string[] = []
  let at = from
  while (at < table.length && table[at] !== 0) {
    const end = table.indexOf(0, at)
    const until = end === -1 ? table.length : end
    list.push(new TextDecoder('latin1').decode(table.subarray(at, until)))
    at = until + 1
  }
  // With no text at all two zeros stand there.
  return { list, end: list.length === 0 ? from + 2 : at + 1 }
}
