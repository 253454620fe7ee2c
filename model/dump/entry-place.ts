// Where an entry of a dump belongs: "Core 3", "CH A" and the like are taken out of its name and headings, so that every core's line has one name.
import type { Scope } from '../records/tune.ts'
import type { DumpEntry } from './read-dump.ts'

export interface PlacedName {
  /** Name with its headings before it, places taken out: what a layout remembers. */
  readonly full: string
  /** The name alone, places taken out. */
  readonly name: string
  readonly headings: readonly string[]
  /** Null where nothing says it. */
  readonly scope: Scope | null
}

export function placeEntry({ path, name }: Pick<DumpEntry, 'path' | 'name'>): PlacedName {
  const own = takePlace(name)
  let scope = own.scope
  const headings: string[] = []
  // The innermost heading that names a place counts.
  for (const heading of path.toReversed()) {
    const taken = takePlace(heading)
    scope ??= taken.scope
    headings.unshift(taken.scope === null ? heading : taken.rest)
  }
  const kept = headings.filter((heading) => heading !== '')
  const rest = own.rest === '' ? name : own.rest
  return { full: [...kept, rest].join(' / ').slice(0, LONGEST), name: rest, headings: kept, scope }
}

/** As a layout's record allows. */
const LONGEST = 300

interface Taken {
  readonly rest: string
  readonly scope: Scope | null
}

/** Looks for a level's word with an index after it ("core 3", "CoreGroup0", "CH A", "channel_a"). */
function takePlace(text: string): Taken {
  if (text.length > LONGEST) return { rest: text, scope: null }
  const found = PLACE.exec(text)
  if (found === null) return { rest: text, scope: null }
  const [whole, word = '', index = ''] = found
  const level = LEVELS[word.toLowerCase().replace(/[\s_-]/g, '')]
  if (level === undefined) return { rest: text, scope: null }
  const rest = `${text.slice(0, found.index)} ${text.slice(found.index + whole.length)}`.replace(/\(\s*\)|\[\s*\]/g, ' ').replace(/\s+/g, ' ').replace(/^[\s:,_/-]+|[\s:,_/-]+$/g, '')
  return { rest, scope: { level, index: index.toUpperCase() } }
}

/** The index is a number or a letter by itself: "core voltage" names no place. */
const PLACE = /(?<![\p{L}\d])(core[\s_-]?group|core|channel|chan|ch|module|slot|dimm|package|socket)[\s_#-]{0,2}(\d{1,3}|[a-h]\d?)(?![\p{L}\d])/iu

const LEVELS: Readonly<Record<string, Scope['level']>> = { coregroup: 'core group', core: 'core', channel: 'channel', chan: 'channel', ch: 'channel', module: 'module', slot: 'module', dimm: 'module', package: 'package', socket: 'package' }
