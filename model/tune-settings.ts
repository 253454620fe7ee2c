// What a tune asks for as a whole: its own settings over those of the tunes that it is based on.
import { SpokenError } from './errors.ts'
import { settingKey } from './ceilings.ts'
import type { LabRecord } from './records/index.ts'
import type { Setting, SettingValue, Tune } from './records/tune.ts'

/** One setting with the tune that it comes from. */
export interface TuneSetting extends Setting {
  readonly fromTuneId: string
}

/** A setting that a value was asked for. */
export interface AskedValue {
  readonly key: string
  readonly scope: Setting['scope']
  readonly value: SettingValue
}

/**
 * Every setting of a tune with its base tunes resolved. A later tune's word replaces an earlier one for the same key and scope; `unchanged` leaves the
 * base's word standing, and stays only where no base says anything. Base tunes that are gone add nothing. Throws a sentence where tunes are based on each other in a ring.
 */
export function settingsOfTune(tune: Tune, look: (id: string) => LabRecord | undefined): readonly TuneSetting[] {
  const settings = new Map<string, TuneSetting>()
  for (const one of lineage(tune, look)) {
    for (const setting of one.settings) {
      const place = settingPlace(setting)
      if (setting.asked.shape === 'unchanged' && settings.has(place)) continue
      settings.set(place, { ...setting, fromTuneId: one.id })
    }
  }
  return [...settings.values()]
}

/** Those of them that name a value; what is left to the board has none to look at. */
export function askedValues(settings: readonly Setting[]): readonly AskedValue[] {
  return settings.flatMap(({ key, scope, asked }) => (asked.shape === 'auto' || asked.shape === 'unchanged' ? [] : [{ key, scope, value: asked }]))
}

/** Two settings with the same place speak of the same thing: key and scope, without regard to case. */
export function settingPlace({ key, scope }: Pick<Setting, 'key' | 'scope'>): string {
  return [settingKey(key), scope.level, settingKey(scope.index ?? '')].join('\n')
}

/** The tune and its bases, the furthest base first. */
function lineage(tune: Tune, look: (id: string) => LabRecord | undefined): readonly Tune[] {
  const line: Tune[] = []
  const seen = new Set<string>()
  for (let at: LabRecord | undefined = tune; at?.kind === 'tune'; at = at.baseId === undefined ? undefined : look(at.baseId)) {
    if (seen.has(at.id)) {
      throw new SpokenError({ code: 'base-ring', place: `tune "${tune.name}"`, message: `its base tunes lead back to "${at.name}".`, mend: 'Give one of them another base, or none.' })
    }
    seen.add(at.id)
    line.unshift(at)
  }
  return line
}
