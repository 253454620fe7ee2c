// Which settings reach which sample, and what was asked or in force of them in one stretch of a start.
import { askedValues, settingKey, settingPlace, settingsOfTune, type Assembly, type Ceiling, type InForce, type Known, type SettingInForce, type SettingValue, type Slot, type Start } from '@guardband/model'
import type { Look } from './describe.ts'

/** A setting as it held: read or seen in the start, or only asked for. */
export interface HeldSetting {
  readonly key: string
  readonly scope: SettingInForce['scope']
  readonly value: SettingValue
  readonly known: Known | 'asked'
}

/**
 * What held in a start (`inForce` undefined: nobody recorded what was in force). What was recorded comes first; the tune fills in the settings that nobody
 * looked at. A start that fell back is not taken to have had the tune that was asked of it.
 */
export function heldSettings(start: Start, inForce: InForce | undefined, look: Look): readonly HeldSetting[] {
  const recorded = inForce?.settings ?? []
  const places = new Set(recorded.map(settingPlace))
  const tune = look(inForce?.tuneId ?? (start.result === 'fallback start' ? '' : (start.tuneId ?? '')))
  const asked = tune?.kind === 'tune' ? askedValues(settingsOfTune(tune, look)) : []
  return [...recorded, ...asked.flatMap((setting) => (places.has(settingPlace(setting)) ? [] : [{ ...setting, known: 'asked' as const }]))]
}

/** Whether a setting drives what sits in this slot: by the slot that a ceiling gives it, else by its scope; a setting of the whole machine drives all that takes a current of its own. */
export function reaches(setting: Pick<HeldSetting, 'key' | 'scope'>, slot: Slot, ceilings: readonly Ceiling[]): boolean {
  const key = settingKey(setting.key)
  const named = ceilings.flatMap((ceiling) => (ceiling.slot !== undefined && ceiling.settings.some((own) => settingKey(own) === key) ? [ceiling.slot] : []))
  if (named.length > 0) return named.includes(slot)
  return SLOTS_OF[setting.scope.level].includes(slot)
}

/** The samples of an assembly that settings can reach, each once. */
export function drivenSlots(assembly: Assembly): readonly { readonly slot: Slot; readonly sampleId: string }[] {
  return assembly.slots.filter(({ slot }) => DRIVEN.includes(slot))
}

/** A cooler or a supply is not driven by settings of the machine. */
const DRIVEN: readonly Slot[] = ['processor', 'memory', 'board', 'graphics', 'storage']

const SLOTS_OF: Readonly<Record<HeldSetting['scope']['level'], readonly Slot[]>> = {
  package: ['processor', 'graphics'],
  'core group': ['processor', 'graphics'],
  core: ['processor', 'graphics'],
  channel: ['memory'],
  module: ['memory'],
  machine: DRIVEN,
}
