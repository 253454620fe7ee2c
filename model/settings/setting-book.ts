// What the lab knows of settings: their kinds as people confirmed them, and what the tunes so far ask for.
import { z } from 'zod'
import { settingKey } from '../ceilings.ts'
import { finiteSchema, nameSchema } from '../records/base.ts'
import { scopeSchema, settingKindSchema, type Asked, type Setting, type SettingKind, type Tune } from '../records/tune.ts'
import { convert } from '../units.ts'

/** A figure that a setting has somewhere, with how many tunes ask for it. */
export const seenFigureSchema = z.strictObject({ value: finiteSchema, unit: z.string(), tunes: z.int().positive() })
export type SeenFigure = z.infer<typeof seenFigureSchema>

export const knownSettingSchema = z.strictObject({
  key: nameSchema,
  unit: z.string(),
  shape: settingKindSchema.shape.shape,
  level: scopeSchema.shape.level,
  /** The kind, where a person has confirmed one. */
  kind: settingKindSchema.nullable(),
  /** Tunes that name it. */
  tunes: z.int().min(0),
  /** Different figures, rows of tables and points of curves among them; the most used first. */
  seen: z.array(seenFigureSchema),
  modes: z.array(z.string()),
})
export type KnownSetting = z.infer<typeof knownSettingSchema>

/**
 * Everything known, the most used first. Tunes that are changes on others count only with what they name themselves. Of the tune that is being written
 * the names and units are known, and its figures are held against those of the others.
 */
export function knownSettings(input: { readonly kinds: readonly SettingKind[]; readonly tunes: readonly Tune[]; readonly written?: Tune }): readonly KnownSetting[] {
  const tallies = new Map<string, Tally>()
  for (const kind of input.kinds) tallies.set(settingKey(kind.name), { ...emptyTally(kind.name), kind })
  for (const tune of input.tunes) {
    const named = new Set<string>()
    const figuresHere = new Set<string>()
    for (const setting of tune.settings) {
      const place = settingKey(setting.key)
      const tally = tallies.get(place) ?? emptyTally(setting.key)
      tallies.set(place, tally)
      if (!named.has(place)) tally.tunes += 1
      named.add(place)
      countInto(tally, setting, figuresHere)
    }
  }
  for (const { key, scope, asked } of input.written?.settings ?? []) {
    const place = settingKey(key)
    const tally = tallies.get(place) ?? emptyTally(key)
    tallies.set(place, tally)
    tally.levels.set(scope.level, (tally.levels.get(scope.level) ?? 0) + 1)
    if (asked.shape === 'auto' || asked.shape === 'unchanged') continue
    if (tally.shapes.size === 0) tally.shapes.set(asked.shape, 1)
    if ('unit' in asked && tally.units.size === 0) tally.units.set(asked.unit, 1)
  }
  return [...tallies.values()].map(told).toSorted((a, b) => b.tunes - a.tunes || a.key.localeCompare(b.key))
}

export interface SettingBook {
  readonly all: readonly KnownSetting[]
  /** Without regard to case and blanks. */
  readonly find: (key: string) => KnownSetting | undefined
  /** Keys that begin with the text, then those in which a word does, then those with the letters in this order. At most `count`. */
  readonly suggest: (text: string, count: number) => readonly KnownSetting[]
}

export function settingBook(all: readonly KnownSetting[]): SettingBook {
  const byKey = new Map(all.map((known) => [settingKey(known.key), known]))
  return {
    all,
    find: (key) => byKey.get(settingKey(key)),
    suggest: (text, count) => {
      const wanted = settingKey(text)
      if (wanted === '') return []
      const ranked = [...byKey].flatMap(([key, known]) => {
        const rank = rankOf(wanted, key)
        return rank === null ? [] : [{ rank, known }]
      })
      // The order of equals stays that of use.
      return ranked.toSorted((a, b) => a.rank - b.rank).slice(0, count).map(({ known }) => known)
    },
  }
}

/** The figures of a value: one, or those of its rows or points. */
export function figuresOf(asked: Asked): readonly number[] {
  if (asked.shape === 'scalar') return [asked.value]
  if (asked.shape === 'table') return asked.rows.map(([, value]) => value)
  return asked.shape === 'curve' ? asked.points.map(([, value]) => value) : []
}

interface Tally {
  readonly key: string
  kind: SettingKind | null
  tunes: number
  readonly shapes: Map<SettingKind['shape'], number>
  readonly units: Map<string, number>
  readonly levels: Map<Setting['scope']['level'], number>
  readonly figures: Map<string, SeenFigure>
  readonly modes: Set<string>
}

function emptyTally(key: string): Tally {
  return { key, kind: null, tunes: 0, shapes: new Map(), units: new Map(), levels: new Map(), figures: new Map(), modes: new Set() }
}

function countInto(tally: Tally, { asked, scope }: Setting, figuresHere: Set<string>): void {
  tally.levels.set(scope.level, (tally.levels.get(scope.level) ?? 0) + 1)
  if (asked.shape === 'auto' || asked.shape === 'unchanged') return
  tally.shapes.set(asked.shape, (tally.shapes.get(asked.shape) ?? 0) + 1)
  if (asked.shape === 'mode') {
    tally.modes.add(asked.mode)
    return
  }
  tally.units.set(asked.unit, (tally.units.get(asked.unit) ?? 0) + 1)
  for (const value of figuresOf(asked)) {
    const id = `${value} ${asked.unit}`
    const seen = tally.figures.get(id)
    // Several cores of one tune are one tune.
    const once = `${settingKey(tally.key)} ${id}`
    tally.figures.set(id, { value, unit: asked.unit, tunes: (seen?.tunes ?? 0) + (figuresHere.has(once) ? 0 : 1) })
    figuresHere.add(once)
  }
}

function told({ key, kind, tunes, shapes, units, levels, figures, modes }: Tally): KnownSetting {
  const unit = kind?.unit ?? most(units) ?? ''
  return {
    key: kind?.name ?? key,
    unit,
    shape: kind?.shape ?? most(shapes) ?? 'scalar',
    level: kind?.level ?? most(levels) ?? 'machine',
    kind,
    tunes,
    seen: [...figures.values()].filter((figure) => convert(figure.value, figure.unit, unit) !== undefined).toSorted((a, b) => b.tunes - a.tunes).slice(0, MOST_SEEN),
    modes: [...new Set([...(kind?.modes ?? []), ...modes])].slice(0, MOST_SEEN),
  }
}

/** Enough for a range; more would only make the page heavier. */
const MOST_SEEN = 60

function most<Key>(counts: ReadonlyMap<Key, number>): Key | undefined {
  return [...counts].toSorted((a, b) => b[1] - a[1])[0]?.[0]
}

function rankOf(wanted: string, key: string): number | null {
  if (key.startsWith(wanted)) return 0
  if (key.split(/[\s_-]+/).some((word) => word.startsWith(wanted))) return 1
  // "cvo" finds "core voltage offset"; "mem volt" finds "memory controller voltage".
  const words = key.split(/[\s_-]+/)
  if (words.map((word) => word[0]).join('').startsWith(wanted)) return 2
  const parts = wanted.split(' ')
  let from = 0
  for (const part of parts) {
    const found = words.findIndex((word, index) => index >= from && word.startsWith(part))
    if (found < 0) return null
    from = found + 1
  }
  return 3
}
