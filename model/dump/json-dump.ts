// A settings dump that is JSON: objects become headings, their leaves entries.
import type { DumpEntry } from './read-dump.ts'

/** Null where the text is no JSON; then it is read line by line. */
export function readJsonDump(text: string): readonly DumpEntry[] | null {
  const first = text.trimStart().charAt(0)
  if (first !== '{' && first !== '[') return null
  let whole: unknown
  try {
    whole = JSON.parse(text)
  } catch {
    return null
  }
  const entries: DumpEntry[] = []
  // A stack of its own: text from outside may be nested as deep as it likes.
  const waiting: { readonly path: readonly string[]; readonly name: string; readonly value: unknown }[] = [{ path: [], name: '', value: whole }]
  for (let at = waiting.pop(); at !== undefined; at = waiting.pop()) {
    const { path, name, value } = at
    if (typeof value !== 'object' || value === null) {
      if (name !== '' && value !== null && value !== '') entries.push({ line: entries.length + 1, path, name, value: leafText(value) })
      continue
    }
    if (path.length > DEEPEST) continue
    const named = namedValue(value)
    if (named !== null) {
      waiting.push({ path, name: named.name, value: named.value })
      continue
    }
    const inner = name === '' ? path : [...path, name]
    const members: readonly (readonly [string, unknown])[] = Array.isArray(value) ? value.map((member: unknown, index) => [String(index), member]) : Object.entries(value)
    for (const [key, member] of members.toReversed()) waiting.push({ path: inner, name: key, value: member })
  }
  return entries
}

/** Nobody nests settings deeper; a text that does is hostile. */
const DEEPEST = 20

/** {"name": "core ratio", "value": 54, "unit": "x"}: an entry written as an object. */
function namedValue(value: object): { readonly name: string; readonly value: string } | null {
  if (!('name' in value && 'value' in value) || typeof value.name !== 'string' || typeof value.value === 'object') return null
  const unit = 'unit' in value && typeof value.unit === 'string' ? ` ${value.unit}` : ''
  return { name: value.name, value: `${leafText(value.value)}${unit}` }
}

function leafText(value: unknown): string {
  return typeof value === 'string' ? value : JSON.stringify(value)
}
