// A start in words: how it came up, what was in force, what surrounded it.
import { Fragment, type ReactNode } from 'react'
import type { StartWhole } from '@guardband/model/api/runs'
import { exact, fixed, minutesText } from '@guardband/model/figures'
import type { Conditions, Start } from '@guardband/model/records/start'

export interface ConditionField {
  readonly key: keyof Conditions
  readonly label: string
  readonly unit?: string
}

export const CONDITION_FIELDS: readonly ConditionField[] = [
  { key: 'firmware', label: 'firmware' },
  { key: 'microcode', label: 'microcode' },
  { key: 'systemImage', label: 'system image' },
  { key: 'kernel', label: 'kernel' },
  { key: 'drivers', label: 'drivers' },
  { key: 'memory', label: 'memory' },
  { key: 'powerPlan', label: 'power plan' },
  { key: 'cooling', label: 'cooling' },
  { key: 'ambient', label: 'ambient', unit: '\u00b0C' },
  { key: 'coolant', label: 'coolant', unit: '\u00b0C' },
  { key: 'humidity', label: 'humidity', unit: '%' },
  { key: 'fans', label: 'fans' },
  { key: 'graphicsClocks', label: 'graphics clocks' },
]

/** Those that are known, as rows of a list of facts; one line where none is. */
export function ConditionFacts({ conditions }: { readonly conditions: Conditions }): ReactNode {
  const known = CONDITION_FIELDS.filter(({ key }) => conditions[key] !== undefined)
  if (known.length === 0) {
    return (
      <div>
        <dt>conditions</dt>
        <dd>none recorded: nothing shows that they were alike</dd>
      </div>
    )
  }
  return known.map(({ key, label, unit }) => (
    <Fragment key={key}>
      <div>
        <dt>{label}</dt>
        <dd>{conditionText(conditions[key], unit)}</dd>
      </div>
    </Fragment>
  ))
}

export function conditionText(value: string | number | undefined, unit: string | undefined): string {
  if (value === undefined) return 'not recorded'
  return typeof value === 'number' ? `${exact(value)}${unit === undefined ? '' : ` ${unit}`}` : value
}

export function trainingText({ training }: Start): string {
  if (training === undefined) return ''
  const { result, tries, seconds, postCode } = training
  return [RESULTS[result], ...(tries === undefined ? [] : [tries === 1 ? 'at the first try' : `${tries} tries`]), ...(seconds === undefined ? [] : [`${exact(seconds)} s`]), ...(postCode === undefined ? [] : [`code ${postCode}`])].join(', ')
}

/** The times of the start and its runs are the rig's own; a person who lays them beside another clock's has to know. */
export function startClockText({ clock }: Start): string {
  if (clock === undefined) return ''
  const { offset, within } = clock
  const place = /^[0-9a-f]{8}-/.test(clock.against) ? 'the hub\'s' : `${clock.against}'s`
  if (Math.abs(offset) <= within) return `as ${place}, within ${secondsText(within)}`
  return `${secondsText(Math.abs(offset))} ${offset > 0 ? 'behind' : 'ahead of'} ${place}, give or take ${secondsText(within)}; times here are its own`
}

/** As many digits as the figure is known with; a bound has one. */
function secondsText(seconds: number): string {
  return seconds < 1 ? `${exact(Number(seconds.toPrecision(1)))} s` : seconds < 120 ? `${fixed(seconds, 1)} s` : minutesText(seconds / 60)
}

const RESULTS = { full: 'trained in full', restored: 'restored from before', failed: 'failed', fallback: 'fell back to safe settings', unknown: 'not known' } as const

export function inForceText({ record, tune }: StartWhole['inForce'][number]): string {
  return `${tune ?? 'matches no tune that is known'} (${record.known})`
}
