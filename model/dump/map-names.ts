// Which setting each name of a dump is: remembered from a layout, the lab's own key, a near name in a unit that fits, or its own name until a person says otherwise.
import { settingKey } from '../ceilings.ts'
import { contentDigest } from '../digest.ts'
import type { DumpLayout, DumpName, Layout } from '../records/layout.ts'
import type { Asked } from '../records/tune.ts'
import type { SettingBook } from '../settings/setting-book.ts'
import { doubtsOf } from '../settings/typing-guard.ts'
import { convert } from '../units.ts'
import { decimalOf, readDumpValue } from './dump-value.ts'
import { placeEntry, type PlacedName } from './entry-place.ts'
import type { DumpEntry, ReadDump } from './read-dump.ts'

export interface PlacedEntry extends DumpEntry {
  readonly placed: PlacedName
}

export interface MappedName {
  readonly name: DumpName
  /** How the key came about. */
  readonly by: 'remembered' | 'own key' | 'near name' | 'its own name'
  /** The first value that stands beside it. */
  readonly example: string
  /** How many entries have it: one a core, one a channel. */
  readonly entries: number
}

export interface MappedDump {
  readonly entries: readonly PlacedEntry[]
  readonly decimal: '.' | ','
  readonly names: readonly MappedName[]
  readonly fingerprint: string
  /** The layout that it was mapped by; `new` counts names that it did not know. */
  readonly layout: { readonly record: Layout; readonly new: number } | null
}

/** Maps a dump by the layout that is nearest to it among those remembered, and guesses the rest. */
export function mapDump(input: { readonly read: ReadDump; readonly book: SettingBook; readonly layouts: readonly Layout[] }): MappedDump {
  const { read, book } = input
  const entries = read.entries.map((entry): PlacedEntry => ({ ...entry, placed: placeEntry(entry) }))
  const groups = Map.groupBy(entries, ({ placed }) => placed.full)
  const fingerprint = contentDigest([read.separator, ...[...groups.keys()].toSorted()])
  const found = layoutFor({ separator: read.separator, fingerprint, names: groups }, input.layouts)
  const remembered = new Map((found?.of.names ?? []).map((name) => [name.name, name]))
  const decimal = found?.of.decimal ?? decimalOf(entries.map(({ value }) => value))
  const guess = nameGuesser(book, decimal)
  const bare = Map.groupBy(groups.keys(), (full) => settingKey(groups.get(full)?.[0]?.placed.name ?? full))
  const names = [...groups].map(([full, members]): MappedName => {
    const [first] = members
    const told = { example: first.value, entries: members.length }
    const known = remembered.get(full)
    if (known !== undefined) return { name: known, by: 'remembered', ...told }
    const guessed = guess(first)
    if (guessed !== null) return { name: { name: full, key: guessed.key }, by: guessed.by, ...told }
    const alone = (bare.get(settingKey(first.placed.name))?.length ?? 0) < 2
    return { name: { name: full, key: ownKey(first.placed, alone ? 'plain' : 'with headings') }, by: 'its own name', ...told }
  })
  return { entries, decimal, names, fingerprint, layout: found === null ? null : { record: found.record, new: names.filter(({ by }) => by !== 'remembered').length } }
}

/** What a layout's record holds of a dump, names of the layout before that this dump lacks included. */
export function layoutOf(read: ReadDump, mapped: MappedDump, names: readonly DumpName[]): DumpLayout {
  const here = new Set(names.map(({ name }) => name))
  const before = mapped.layout?.record.of.use === 'settings dump' ? mapped.layout.record.of.names.filter(({ name }) => !here.has(name)) : []
  return { use: 'settings dump', separator: read.separator, decimal: mapped.decimal, names: [...names, ...before].slice(0, MOST_NAMES) }
}

/** As the record allows. */
const MOST_NAMES = 5000

interface Wanted {
  readonly separator: ReadDump['separator']
  readonly fingerprint: string
  readonly names: ReadonlyMap<string, unknown>
}

function layoutFor(wanted: Wanted, layouts: readonly Layout[]): { readonly record: Layout; readonly of: DumpLayout } | null {
  let best: { readonly record: Layout; readonly of: DumpLayout; readonly share: number } | null = null
  for (const record of layouts) {
    const { of } = record
    if (of.use !== 'settings dump' || of.separator !== wanted.separator) continue
    if (record.fingerprint === wanted.fingerprint) return { record, of }
    const share = of.names.filter(({ name }) => wanted.names.has(name)).length / wanted.names.size
    if (share >= ALIKE && (best === null || share > best.share)) best = { record, of, share }
  }
  return best
}

/** A new firmware adds and drops some names; with most in common it is still the same layout. */
const ALIKE = 0.6

function ownKey({ name, headings }: PlacedName, form: 'plain' | 'with headings'): string {
  const whole = form === 'plain' || headings.length === 0 ? name : `${headings.at(-1) ?? ''} ${name}`
  return settingKey(whole.replace(/[_\s]+/g, ' ')).slice(0, LONGEST_KEY)
}

const LONGEST_KEY = 200

function nameGuesser(book: SettingBook, decimal: '.' | ','): (entry: PlacedEntry) => { readonly key: string; readonly by: 'own key' | 'near name' } | null {
  const byWord = new Map<string, { readonly key: string; readonly unit: string; readonly shape: string; readonly words: ReadonlySet<string> }[]>()
  for (const { key, unit, shape } of book.all) {
    const words = new Set(wordsOf(key))
    for (const word of words) {
      const list = byWord.get(word)
      if (list === undefined) byWord.set(word, [{ key, unit, shape, words }])
      else list.push({ key, unit, shape, words })
    }
  }
  return ({ placed, value }) => {
    const exactly = book.find(placed.name)
    if (exactly !== undefined) return { key: exactly.key, by: 'own key' }
    const own = new Set(wordsOf(placed.name))
    const above = new Set(placed.headings.flatMap(wordsOf))
    const asked = readDumpValue(value, { decimal })
    const here = asked?.inForce ?? asked?.asked ?? null
    let best: { readonly key: string; readonly score: number } | null = null
    for (const candidate of new Set([...own].flatMap((word) => byWord.get(word) ?? []))) {
      if (here !== null && 'unit' in here && here.unit !== '' && convert(1, here.unit, candidate.unit) === undefined) continue
      if (here !== null && here.shape === 'mode' && candidate.shape !== 'mode') continue
      let common = 0
      let fromAbove = 0
      for (const word of candidate.words) {
        if (own.has(word)) common += 1
        else if (above.has(word)) fromAbove += 1
      }
      const score = (2 * (common + fromAbove)) / (own.size + fromAbove + candidate.words.size)
      if (score >= NEAR && (best === null || score > best.score) && fits(candidate.key, here)) best = { key: candidate.key, score }
    }
    return best === null ? null : { key: best.key, by: 'near name' }
  }

  /** A figure that would be questioned under the near name is a hint that the name is another. */
  function fits(key: string, here: Asked | null): boolean {
    const known = book.find(key)
    if (here === null || known === undefined) return true
    const asked = 'unit' in here && here.unit === '' ? { ...here, unit: known.unit } : here
    return doubtsOf({ setting: { key, scope: { level: known.level }, asked }, known }).length === 0
  }
}

/** Three of four words, headings helping: a wrong guess costs a look, a missed one a pick from a list. */
const NEAR = 0.75

/** Words in lower case, with the short forms of the trade written out. */
function wordsOf(text: string): readonly string[] {
  const split = text.replace(/([\p{Ll}\d])(\p{Lu})/gu, '$1 $2').toLowerCase().split(/[^\p{L}\d]+/u)
  return split.filter((word) => word !== '' && !IDLE.has(word)).flatMap((word) => WRITTEN_OUT[word] ?? [word])
}

const IDLE: ReadonlySet<string> = new Set(['the', 'of', 'for', 'mode', 'setting', 'value', 'control', 'override', 'target'])

const WRITTEN_OUT: Readonly<Record<string, readonly string[]>> = {
  vcore: ['core', 'voltage'], cores: ['core'], volt: ['voltage'], volts: ['voltage'], vltg: ['voltage'], voltages: ['voltage'], freq: ['frequency'], clk: ['clock'], mem: ['memory'], dram: ['memory'],
  ram: ['memory'], pwr: ['power'], lim: ['limit'], limits: ['limit'], ctrl: ['controller'], ctl: ['controller'], pkg: ['package'], temp: ['temperature'], ofs: ['offset'], offs: ['offset'], ratios: ['ratio'],
  mult: ['ratio'], multiplier: ['ratio'], curr: ['current'], cur: ['current'], spd: ['speed'], ll: ['load', 'line'], loadline: ['load', 'line'], datarate: ['data', 'rate'], transfers: ['data', 'rate'],
}
