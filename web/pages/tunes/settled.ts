// Settings of a tune with its base, as a page reckons them while they are being typed.
import type { ResolvedSetting, TuneListRow } from '@guardband/model/api/tunes'
import { ceilingFindings, type CeilingFinding } from '@guardband/model/ceilings'
import type { Ceiling } from '@guardband/model/records/safety'
import type { Setting } from '@guardband/model/records/tune'
import { askedValues, settingPlace } from '@guardband/model/tune-settings'

/** Everything that the base asks for, by place; empty without a base. */
export function settingsBelow(base: readonly ResolvedSetting[] | undefined): ReadonlyMap<string, Setting> {
  return new Map((base ?? []).map(({ setting }) => [settingPlace(setting), setting]))
}

export function pastCeilings(below: ReadonlyMap<string, Setting>, own: readonly Setting[], ceilings: readonly Ceiling[]): readonly CeilingFinding[] {
  const all = new Map<string, Setting>(below)
  for (const setting of own) {
    const place = settingPlace(setting)
    if (setting.asked.shape !== 'unchanged' || !all.has(place)) all.set(place, setting)
  }
  return ceilingFindings({ settings: askedValues([...all.values()]), ceilings })
}

/** Tunes that may be the base: all but itself and those that stand on it. */
export function possibleBases(rows: readonly TuneListRow[], id: string | undefined): readonly TuneListRow[] {
  return id === undefined ? rows : rows.filter((row) => !standsOn(row.id, id, rows))
}

/** Whether `id` is `base` or leads down to it. */
export function standsOn(id: string, base: string, rows: readonly TuneListRow[]): boolean {
  const baseOf = new Map(rows.map((row) => [row.id, row.baseId]))
  const seen = new Set<string>()
  for (let at: string | null | undefined = id; at != null && !seen.has(at); at = baseOf.get(at)) {
    if (at === base) return true
    seen.add(at)
  }
  return false
}
