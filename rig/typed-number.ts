// A number as a person types it, in the unit asked for: bare, or with a unit that converts to it.
import { convert, unitText } from '@guardband/model'
import { readFigure } from '@guardband/model/settings/read-value'

export type TypedNumber = { readonly kind: 'value'; readonly value: number } | { readonly kind: 'unfit'; readonly message: string }

/** Nothing is guessed: a comma may part thousands or decimals, so it is asked again. */
export function typedNumber(text: string, unit: string): TypedNumber {
  const wanted = unitText(unit) === '' ? 'a number' : `a number in ${unitText(unit)}`
  const unfit = (more: string): TypedNumber => ({ kind: 'unfit', message: `The value must be ${wanted}, with a decimal point; got ${text.trim() === '' ? 'nothing' : `"${text.trim().slice(0, SHOWN)}"`}${more}.` })
  if (text.includes(',')) return unfit('')
  const figure = readFigure(text.trim())
  if (figure === null || 'sentence' in figure) return unfit('')
  const value = figure.unit === null ? figure.value : convert(figure.value, bare(figure.unit), bare(unit))
  return value === undefined || !Number.isFinite(value) ? unfit(', which does not convert to it') : { kind: 'value', value }
}

/** Enough of a wrong text to recognise it by. */
const SHOWN = 80

function bare(unit: string): string {
  return unit === '1' ? '' : unit
}
