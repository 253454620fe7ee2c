// What was asked against what was in force: settings that came out otherwise, what "auto" came to, and what nobody looked at.
import type { Known } from '../records/base.ts'
import { counted, fixed } from '../figures.ts'
import { settingText, type Setting, type SettingInForce, type SettingKind } from '../records/tune.ts'
import { settingPlace } from '../tune-settings.ts'
import { differingRows, placeName, type DifferenceRow } from './differences.ts'

export interface Applied {
  readonly sentence: string
  /** Asked for a value and got another. */
  readonly otherwise: readonly DifferenceRow[]
  /** Left to the board, which chose. */
  readonly autos: readonly { readonly key: string; readonly place: string; readonly value: string; readonly known: Known }[]
  /** Asked for, and nobody knows whether it came to be. */
  readonly unseen: readonly { readonly key: string; readonly place: string; readonly asked: string }[]
  /** In force and not asked for. */
  readonly besides: number
  readonly asAsked: number
}

export function appliedOf(input: { readonly asked: readonly Setting[]; readonly inForce: readonly SettingInForce[]; readonly kinds?: readonly SettingKind[] }): Applied {
  const held = new Map(input.inForce.map((setting) => [settingPlace(setting), setting]))
  const wanted = input.asked.filter(({ asked }) => asked.shape !== 'unchanged')
  const places = new Set(wanted.map(settingPlace))
  const seen = wanted.filter((setting) => held.has(settingPlace(setting)))
  const valued = seen.filter(({ asked }) => asked.shape !== 'auto')
  const inForce = valued.flatMap((setting) => {
    const found = held.get(settingPlace(setting))
    return found === undefined ? [] : [{ key: setting.key, scope: setting.scope, asked: found.value, known: found.known }]
  })
  const { rows, same } = differingRows(valued, inForce, input.kinds ?? [])
  const autos = seen.flatMap((setting) => {
    const found = setting.asked.shape === 'auto' ? held.get(settingPlace(setting)) : undefined
    return found === undefined ? [] : [{ key: setting.key, place: placeName(setting.scope), value: settingText(found.value), known: found.known }]
  })
  const unseen = wanted.filter((setting) => !held.has(settingPlace(setting))).map((setting) => ({ key: setting.key, place: placeName(setting.scope), asked: settingText(setting.asked) }))
  const besides = input.inForce.filter((setting) => !places.has(settingPlace(setting))).length
  return { sentence: appliedSentence(rows, { same, wanted: wanted.length, seen: seen.length }), otherwise: rows, autos, unseen, besides, asAsked: same }
}

function appliedSentence(rows: readonly DifferenceRow[], { same, wanted, seen }: { readonly same: number; readonly wanted: number; readonly seen: number }): string {
  if (wanted === 0) return 'Nothing was asked for, so nothing can have come out otherwise.'
  if (seen === 0) return `Nobody looked at what came of the ${counted(wanted, 'setting')} asked for.`
  const rest = wanted - seen
  const tail = rest === 0 ? '' : ` ${rest === 1 ? 'One more was' : `${fixed(rest, 0)} more were`} asked for and not looked at.`
  if (rows.length === 0) return `${same === 1 ? 'The one setting' : `All ${fixed(same, 0)} settings`} asked for by value and looked at ${same === 1 ? 'is' : 'are'} in force as asked.${tail}`
  const named = rows.slice(0, MOST_NAMED).map(({ key, place, a, b, known }) => `${key}${place === '' ? '' : ` of ${place}`} is ${b ?? 'not known'} (${known ?? 'unverified'}) where ${a ?? 'nothing'} was asked`)
  const more = rows.length - named.length
  return `Asked is not applied in ${counted(rows.length, 'setting')} of ${seen}: ${named.join('; ')}${more > 0 ? `; and ${more} more` : ''}.${tail}`
}

const MOST_NAMED = 3
