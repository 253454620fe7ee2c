// Where things stand in a JSON text (RFC 8259): the first syntax error, keys that come twice, and the place of every value.

export interface JsonFault {
  readonly offset: number
  readonly message: string
}

export interface JsonPlaces {
  readonly fault: JsonFault | null
  /** Offset of each value by its path, such as `tunes[1].apply.run`; the whole document stands at the empty path. */
  readonly offsets: ReadonlyMap<string, number>
}

export interface LinePlace {
  readonly line: number
  readonly column: number
}

export function scanJson(text: string): JsonPlaces {
  const offsets = new Map<string, number>()
  try {
    const end = scanValueInto(offsets, text, skipSpace(text, 0), '', 0)
    const rest = skipSpace(text, end)
    if (rest < text.length) throw new ScanFault(rest, 'nothing may come after the closing bracket')
    return { fault: null, offsets }
  } catch (cause) {
    if (cause instanceof ScanFault) return { fault: { offset: cause.offset, message: cause.message }, offsets }
    throw cause
  }
}

/** Line and column from 1, columns in UTF-16 units as editors count them. */
export function linePlace(text: string, offset: number): LinePlace {
  const before = text.slice(0, offset)
  return { line: before.split('\n').length, column: offset - before.lastIndexOf('\n') }
}

class ScanFault extends Error {
  readonly offset: number

  constructor(offset: number, message: string) {
    super(message)
    this.offset = offset
  }
}

/** Deeper nesting is no plan, and would exhaust the stack. */
const DEEPEST = 100

const SPACE = /[ \t\n\r]*/y
const LITERAL = /(?:true|false|null)(?![A-Za-z0-9_])/y
const NUMBER = /-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?(?![\w.])/y
// oxlint-disable-next-line no-control-regex -- RFC 8259 section 7 forbids exactly these inside a string
const STRING = /"(?:[^"\\\u0000-\u001f]|\\(?:["\\/bfnrt]|u[0-9a-fA-F]{4}))*"/y

function scanValueInto(offsets: Map<string, number>, text: string, at: number, path: string, depth: number): number {
  if (depth > DEEPEST) throw new ScanFault(at, `brackets may be ${DEEPEST} deep at most`)
  offsets.set(path, at)
  const first = text[at]
  if (first === undefined) throw new ScanFault(at, 'the text ends where a value is due')
  if (first === '{') return scanObjectInto(offsets, text, at, path, depth)
  if (first === '[') return scanListInto(offsets, text, at, path, depth)
  if (first === '"') return scanString(text, at)
  const end = matchAt(LITERAL, text, at) ?? matchAt(NUMBER, text, at)
  if (end === null) throw new ScanFault(at, `a value is due here; got ${shown(text, at)}${first === "'" ? ' (texts stand in double quotes)' : ''}`)
  return end
}

function scanObjectInto(offsets: Map<string, number>, text: string, open: number, path: string, depth: number): number {
  const keys = new Set<string>()
  let at = skipSpace(text, open + 1)
  if (text[at] === '}') return at + 1
  for (;;) {
    if (text[at] !== '"') throw new ScanFault(at, `a key in double quotes is due here; got ${shown(text, at)}${text[at] === '}' ? ' (no comma may stand before it)' : ''}`)
    const end = scanString(text, at)
    const key = String(JSON.parse(text.slice(at, end)))
    if (keys.has(key)) throw new ScanFault(at, `the key "${key}" comes twice`)
    keys.add(key)
    at = skipSpace(text, end)
    if (text[at] !== ':') throw new ScanFault(at, `a colon is due after the key "${key}"; got ${shown(text, at)}`)
    at = skipSpace(text, scanValueInto(offsets, text, skipSpace(text, at + 1), path === '' ? key : `${path}.${key}`, depth + 1))
    if (text[at] === '}') return at + 1
    if (text[at] !== ',') throw new ScanFault(at, `a comma or } is due here; got ${shown(text, at)}`)
    at = skipSpace(text, at + 1)
  }
}

function scanListInto(offsets: Map<string, number>, text: string, open: number, path: string, depth: number): number {
  let at = skipSpace(text, open + 1)
  if (text[at] === ']') return at + 1
  for (let index = 0; ; index++) {
    if (text[at] === ']') throw new ScanFault(at, 'a value is due here; got ] (no comma may stand before it)')
    at = skipSpace(text, scanValueInto(offsets, text, at, `${path}[${index}]`, depth + 1))
    if (text[at] === ']') return at + 1
    if (text[at] !== ',') throw new ScanFault(at, `a comma or ] is due here; got ${shown(text, at)}`)
    at = skipSpace(text, at + 1)
  }
}

function scanString(text: string, at: number): number {
  const end = matchAt(STRING, text, at)
  if (end === null) throw new ScanFault(at, 'this text in quotes is not closed on its line, or holds a backslash that stands for nothing (a backslash itself is written \\\\)')
  return end
}

function skipSpace(text: string, at: number): number {
  return matchAt(SPACE, text, at) ?? at
}

function matchAt(pattern: RegExp, text: string, at: number): number | null {
  pattern.lastIndex = at
  return pattern.test(text) ? pattern.lastIndex : null
}

function shown(text: string, at: number): string {
  const point = text.codePointAt(at)
  return point === undefined ? 'the end of the text' : `"${String.fromCodePoint(point)}"`
}
