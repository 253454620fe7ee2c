// A mapped dump as settings: what it asks for, and what it says was in force. Doubts are found as for typed settings, with other places as neighbours.
import { settingKey } from '../ceilings.ts'
import type { Known } from '../records/base.ts'
import type { DumpName } from '../records/layout.ts'
import type { Setting, SettingInForce } from '../records/tune.ts'
import { settingPlace } from '../tune-settings.ts'
import { doubtsOf, type Doubt } from '../settings/typing-guard.ts'
import type { SettingBook } from '../settings/setting-book.ts'
import { readDumpValue } from './dump-value.ts'
import type { PlacedEntry } from './map-names.ts'

export interface DumpSettings {
  readonly asked: readonly Setting[]
  readonly inForce: readonly SettingInForce[]
  /** Entries that a person left out. */
  readonly leftOut: number
  /** Entries that could not be kept, each with its line. */
  readonly refused: readonly { readonly line: number; readonly sentence: string }[]
  /** By line, for the person to look at. */
  readonly doubts: readonly { readonly line: number; readonly key: string; readonly place: string; readonly doubt: Doubt }[]
}

export function dumpSettings(input: {
  readonly entries: readonly PlacedEntry[]
  readonly names: readonly DumpName[]
  readonly decimal: '.' | ','
  readonly book: SettingBook
  /** How what was in force is known. */
  readonly known: Known
}): DumpSettings {
  const { book, decimal } = input
  const byName = new Map(input.names.map((name) => [name.name, name]))
  const asked = new Map<string, { readonly line: number; readonly setting: Setting }>()
  const inForce = new Map<string, SettingInForce>()
  const refused: { line: number; sentence: string }[] = []
  let leftOut = 0
  for (const { line, name, value, placed } of input.entries) {
    const mapped = byName.get(placed.full)
    if (mapped?.key === undefined) {
      leftOut += 1
      continue
    }
    const about = book.find(mapped.key)
    const unit = mapped.unit ?? about?.unit
    const read = readDumpValue(value, { decimal, ...(unit === undefined || unit === '' ? {} : { unit }) })
    if (read === null) {
      refused.push({ line, sentence: `line ${line}: the value of "${name}" can't be kept; it has ${value.length} characters.` })
      continue
    }
    const key = about?.key ?? mapped.key
    const scope = mapped.scope ?? placed.scope ?? { level: about?.level ?? 'machine' }
    const place = settingPlace({ key, scope })
    const before = asked.get(place)
    if (before !== undefined) {
      refused.push({ line, sentence: `line ${line}: "${name}" is ${key} once more; the one of line ${before.line} counts. Give one of them another key, or leave it out.` })
      continue
    }
    if (read.asked !== null) asked.set(place, { line, setting: { key, scope, asked: read.asked } })
    if (read.inForce !== null) inForce.set(place, { key, scope, value: read.inForce, known: input.known })
  }
  return { asked: [...asked.values()].map(({ setting }) => setting), inForce: [...inForce.values()], leftOut, refused, doubts: doubtsAmong([...asked.values()], book) }
}

function doubtsAmong(settings: readonly { readonly line: number; readonly setting: Setting }[], book: SettingBook): DumpSettings['doubts'] {
  const byKey = Map.groupBy(settings, ({ setting }) => settingKey(setting.key))
  return settings.flatMap(({ line, setting }) => {
    const known = book.find(setting.key) ?? null
    const beside = (byKey.get(settingKey(setting.key)) ?? []).map((other) => other.setting)
    return doubtsOf({ setting, known, beside }).map((doubt) => ({ line, key: setting.key, place: settingPlace(setting), doubt }))
  })
}
