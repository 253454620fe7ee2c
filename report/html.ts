// Markup that can only be made from escaped text: a string put into the template is text, never markup.
import { keepTogether, visibleText } from '@guardband/questions/visible-text'

export interface Markup {
  readonly markup: string
}

export type Piece = string | number | Markup | readonly Piece[]

/** Template tag: what is interpolated is escaped, unless it is markup made by this tag. */
export function html(parts: TemplateStringsArray, ...pieces: readonly Piece[]): Markup {
  return { markup: parts.map((part, index) => part + (index < pieces.length ? markupOf(pieces[index]) : '')).join('') }
}

export const nothing: Markup = { markup: '' }

/** Text of the project itself (style, drawn pictures) that is markup already. */
export function trusted(markup: string): Markup {
  return { markup }
}

/** A sentence in which figures keep to their units, and names written from right to left keep to themselves so that the figures beside them stay in place. */
export function sentence(text: string, names: readonly string[]): Markup {
  const foreign = names.filter((name) => RIGHT_TO_LEFT.test(name)).toSorted((a, b) => b.length - a.length)
  const first = foreign.map((name) => ({ name, at: text.indexOf(name) })).filter(({ at }) => at >= 0).toSorted((a, b) => a.at - b.at)[0]
  if (first === undefined) return html`${keepTogether(text)}`
  const after = text.slice(first.at + first.name.length)
  return html`${keepTogether(text.slice(0, first.at))}<bdi>${first.name}</bdi>${sentence(after, foreign)}`
}

export function escapeHtml(text: string): string {
  return visibleText(text).replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;').replaceAll("'", '&#39;')
}

const RIGHT_TO_LEFT = /[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\u{10800}-\u{10fff}\u{1e800}-\u{1efff}]/u

function markupOf(piece: Piece): string {
  if (typeof piece === 'string') return escapeHtml(piece)
  if (typeof piece === 'number') return String(piece)
  if ('markup' in piece) return piece.markup
  return piece.map(markupOf).join('')
}
