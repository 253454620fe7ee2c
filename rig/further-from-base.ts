// Whether one tune stands further from base than another that crashed: nothing goes there after a crash.
import { canonicalJson, convert, type PlanTune, type Setting, type SettingValue } from '@guardband/model'

/**
 * The key of the first setting in which `tune` stands further from `base` than `crashed` does, in the same direction or from where the crashed one stood at
 * base itself; null where there is none. Figures are compared one by one (each element of a table or curve); modes, "auto" and other units can't be, and don't count.
 * A setting that a tune doesn't name stands where base has it.
 */
export function furtherFromBase(tune: PlanTune, crashed: PlanTune, base: PlanTune): string | null {
  const bases = figuresOf(base.settings)
  const crash = figuresOf(crashed.settings)
  for (const [place, figure] of figuresOf(tune.settings)) {
    const from = bases.get(place)
    if (from === undefined) continue
    const own = distance(figure, from)
    const theirs = distance(crash.get(place) ?? from, from)
    if (own === null || theirs === null || own === 0) continue
    const same = Math.sign(own) === Math.sign(theirs) || theirs === 0
    if (same && Math.abs(own) > Math.abs(theirs) + ROUNDING * Math.abs(from.value)) return figure.key
  }
  return null
}

/** Keys of settings that differ from base and can't be measured from it: modes, "auto", units that don't convert, and what base doesn't name in that form. */
export function notComparable(tune: PlanTune, base: PlanTune): readonly string[] {
  const bases = figuresOf(base.settings)
  const known = new Set(base.settings.map(textOf))
  const unlike = tune.settings.filter((setting) => {
    if (setting.asked.shape === 'unchanged' || known.has(textOf(setting))) return false
    const own = [...figuresOf([setting])]
    return own.length === 0 || own.some(([place, figure]) => {
      const from = bases.get(place)
      return from === undefined || distance(figure, from) === null
    })
  })
  return [...new Set(unlike.map(({ key }) => key))]
}

function textOf({ key, scope, asked }: Setting): string {
  return canonicalJson([key.toLowerCase(), scope, asked])
}

interface Figure {
  readonly key: string
  readonly value: number
  readonly unit: string
}

/** Binary fractions of one figure written in two units. */
const ROUNDING = 1e-12

function figuresOf(settings: readonly Setting[]): ReadonlyMap<string, Figure> {
  return new Map(settings.flatMap(({ key, scope, asked }) => (asked.shape === 'auto' || asked.shape === 'unchanged' ? [] : elementsOf(asked).map(({ at, value, unit }): [string, Figure] => [canonicalJson([key.toLowerCase(), scope, at]), { key, value, unit }]))))
}

function elementsOf(value: SettingValue): readonly { readonly at: number | null; readonly value: number; readonly unit: string }[] {
  if (value.shape === 'scalar') return [{ at: null, value: value.value, unit: value.unit }]
  if (value.shape === 'mode') return []
  const pairs = value.shape === 'table' ? value.rows : value.points
  return pairs.map(([at, figure]) => ({ at, value: figure, unit: value.unit }))
}

function distance(figure: Figure, from: Figure): number | null {
  const value = figure.unit === from.unit ? figure.value : convert(figure.value, figure.unit, from.unit)
  return value === undefined ? null : value - from.value
}
