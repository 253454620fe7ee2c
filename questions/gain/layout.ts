// Where everything of a Gain picture goes, as plain boxes: wide with a label column, narrow with each label above its bar.
import { unitText, viewOf, type Answer, type Estimate } from '@guardband/model'
import type { PictureOptions } from '../define.ts'
import { textWidth, wrapText, type TextStyle } from '../text-width.ts'
import { visibleText } from '../visible-text.ts'
import { layOutAxis, plottedRange, type Axis } from './range.ts'

export interface TextItem {
  readonly role: 'label' | 'group' | 'foot' | 'tick' | 'axis' | 'note'
  readonly text: string
  readonly style: TextStyle
  readonly anchor: 'start' | 'middle' | 'end'
  readonly x: number
  /** Baseline. */
  readonly y: number
  /** The whole text where it was cut. */
  readonly whole?: string
}

export interface Span {
  readonly from: number
  readonly to: number
}

export interface RowLayout {
  readonly estimate: Estimate
  readonly weight: 'workload' | 'group' | 'overall'
  readonly y: number
  /** The stretch of height that belongs to this row's bar. */
  readonly strip: Span
  readonly texts: readonly TextItem[]
}

export interface PanelLayout {
  readonly unit: string
  readonly axis: Axis
  readonly plot: { readonly left: number; readonly right: number; readonly top: number; readonly bottom: number }
  readonly rows: readonly RowLayout[]
  /** Headings, tick labels and axis titles. */
  readonly texts: readonly TextItem[]
  /** Heights of the rules above the foot rows. */
  readonly rules: readonly number[]
}

export interface GainLayout {
  readonly form: 'wide' | 'narrow'
  readonly width: number
  readonly height: number
  readonly panels: readonly PanelLayout[]
  /** What stands in place of panels when there is nothing to draw. */
  readonly texts: readonly TextItem[]
}

export function layOutGain(answer: Answer, options: PictureOptions): GainLayout {
  const width = checkWidth(options.width)
  const form = width < WIDE_FROM ? 'narrow' : 'wide'
  const units = panelUnits(answer, options)
  if (units.length === 0) return nothingToDraw(answer, { ...options, width }, form)
  const drawn = units.flatMap(({ estimates }) => estimates)
  const wanted = drawn.map((estimate) => Math.max(textWidth(visibleText(estimate.label), styleOf(estimate)), textWidth(visibleText(estimate.group ?? ''), SMALL_TEXT), LEAST_LABEL))
  const labelWidth = form === 'narrow' ? width : Math.min(width * LABEL_SHARE, Math.max(...wanted))
  const panels: PanelLayout[] = []
  let top = EDGE
  for (const { unit, estimates } of units) {
    const panel = layOutPanel(estimates, { unit, form, width, labelWidth: Math.ceil(labelWidth), top, titled: units.length > 1 ? 'yes' : 'no' })
    panels.push(panel)
    top = panel.plot.bottom + AXIS_HEIGHT + (units.length > 1 ? PANEL_GAP : 0)
  }
  return { form, width, height: Math.ceil(top), panels, texts: [] }
}

export const ROW_TEXT: TextStyle = { size: 14, face: 'text', weight: 'regular' }
export const FOOT_TEXT: TextStyle = { size: 14, face: 'text', weight: 'bold' }
export const SMALL_TEXT: TextStyle = { size: 13, face: 'text', weight: 'regular' }
export const TICK_TEXT: TextStyle = { size: 12.5, face: 'mono', weight: 'regular' }

/** Where a text stands, as an upper bound. */
export function boxOf(item: TextItem): { readonly left: number; readonly right: number; readonly top: number; readonly bottom: number } {
  const wide = textWidth(item.text, item.style)
  const left = item.anchor === 'start' ? item.x : item.anchor === 'end' ? item.x - wide : item.x - wide / 2
  return { left, right: left + wide, top: item.y - item.style.size * 0.95, bottom: item.y + item.style.size * 0.28 }
}

export function axisTitle(unit: string): string {
  return unit === '%' ? 'gain, %' : `difference, ${visibleText(unitText(unit))}`
}

// Everything in CSS pixels.
const WIDE_FROM = 520
const LEAST_WIDTH = 240
const LABEL_SHARE = 0.4
/** Room for the heading of what has no group. */
const LEAST_LABEL = 60
const LABEL_GAP = 24
const EDGE = 8
const LINE = 18
const ROW = 28
const FOOT_ROW = 34
const HEADING = 30
const STRIP = 24
/** Narrow: keeps a label nearer to its own bar than to the one above. */
const ROW_GAP = 11
/** Narrow: between a label and the band under it. */
const LABEL_AIR = 4
const AXIS_HEIGHT = 44
const PANEL_GAP = 20
/** From its baseline, a line of text looks centred on a height this far above. */
const MIDDLE = 5
/** From this many rows on the ticks stand at the top too. */
const TALL = 16

interface PanelPlace {
  readonly unit: string
  readonly form: GainLayout['form']
  readonly width: number
  readonly labelWidth: number
  readonly top: number
  readonly titled: 'yes' | 'no'
}

function layOutPanel(estimates: readonly Estimate[], place: PanelPlace): PanelLayout {
  const left = place.form === 'wide' ? place.labelWidth + LABEL_GAP : EDGE * 2
  const right = place.width - EDGE * 2
  const rows: RowLayout[] = []
  const texts: TextItem[] = []
  const rules: number[] = []
  let y = place.top
  if (place.titled === 'yes') {
    texts.push({ role: 'axis', text: axisTitle(place.unit), style: FOOT_TEXT, anchor: 'start', x: 0, y: y + 14 })
    y += HEADING
  }
  const axis = layOutAxis(plottedRange(estimates), right - left, TICK_TEXT)
  const scale = (value: number) => left + ((value - axis.low) / (axis.high - axis.low)) * (right - left)
  const body = estimates.filter((estimate) => estimate.role === 'workload')
  const foot = [...estimates.filter((estimate) => estimate.role === 'group'), ...estimates.filter((estimate) => estimate.role === 'overall')]
  const tickTexts = axis.ticks
    .map((tick) => ({ role: 'tick' as const, text: tick.text, style: TICK_TEXT, anchor: 'middle' as const, x: scale(tick.value), y: 0 }))
    .filter((item) => boxOf(item).left >= 0 && boxOf(item).right <= place.width)
  if (estimates.length >= TALL) {
    texts.push(...tickTexts.map((item) => ({ ...item, y: y + 12 })))
    y += LINE
  }
  const top = y
  for (const { heading, members } of inGroups(body)) {
    if (heading !== undefined) {
      const wrapped = wrapText(heading, SMALL_TEXT, { width: place.labelWidth, maxLines: 2 })
      y += rows.length > 0 ? EDGE / 2 : 0
      texts.push(...lineItems(wrapped, { role: 'group', style: SMALL_TEXT, top: y + HEADING - LINE, whole: heading }))
      y += HEADING + (wrapped.lines.length - 1) * LINE
    }
    for (const estimate of members) {
      const row = layOutRow(estimate, { ...place, top: y, left, right, scale, axis })
      rows.push(row)
      y = row.strip.to
    }
  }
  if (foot.length > 0 && body.length > 0) {
    rules.push(y + EDGE)
    y += EDGE * 2
  }
  for (const estimate of foot) {
    const row = layOutRow(estimate, { ...place, top: y, left, right, scale, axis })
    rows.push(row)
    y = row.strip.to
  }
  const bottom = y + EDGE / 2
  texts.push(...tickTexts.map((item) => ({ ...item, y: bottom + 16 })))
  if (place.titled === 'no') texts.push({ role: 'axis', text: axisTitle(place.unit), style: SMALL_TEXT, anchor: 'end', x: right, y: bottom + 36 })
  return { unit: place.unit, axis, plot: { left, right, top, bottom }, rows, texts, rules }
}

interface RowPlace extends PanelPlace {
  readonly left: number
  readonly right: number
  readonly axis: Axis
  readonly scale: (value: number) => number
}

function layOutRow(estimate: Estimate, place: RowPlace): RowLayout {
  const weight = estimate.role === 'overall' ? 'overall' : estimate.role === 'group' ? 'group' : 'workload'
  const style = styleOf(estimate)
  const label = wrapText(estimate.label, style, { width: place.labelWidth, maxLines: 2 })
  const note = noteFor(estimate, place)
  const textHeight = label.lines.length * LINE
  const noteHeight = note.lines.length * LINE
  const least = weight === 'overall' ? FOOT_ROW : ROW
  const role = weight === 'workload' ? 'label' : 'foot'
  if (place.form === 'wide') {
    const height = Math.max(least, textHeight + 8, noteHeight + 8)
    const y = place.top + height / 2
    const texts = lineItems(label, { role, style, top: y - textHeight / 2, whole: estimate.label })
    return { estimate, weight, y, strip: { from: place.top, to: place.top + height }, texts: [...texts, ...noteItems(note, y)] }
  }
  const from = place.top + ROW_GAP + textHeight + LABEL_AIR
  const height = Math.max(STRIP, noteHeight + 4)
  const texts = lineItems(label, { role, style, top: place.top + ROW_GAP, whole: estimate.label })
  return { estimate, weight, y: from + height / 2, strip: { from, to: from + height }, texts: [...texts, ...noteItems(note, from + height / 2)] }
}

interface Note {
  readonly lines: readonly string[]
  readonly x: number
  readonly anchor: TextItem['anchor']
  readonly whole?: string
}

/** What a row says in the plot itself: why it has no value, that it has no interval, or that it lies off the axis. */
function noteFor(estimate: Estimate, { left, right, scale, axis }: RowPlace): Note {
  if (estimate.value === null) {
    const whole = estimate.note ?? 'no value'
    const wrapped = wrapText(whole, SMALL_TEXT, { width: right - left - EDGE, maxLines: 2 })
    return { lines: wrapped.lines, x: left + EDGE, anchor: 'start', ...(wrapped.cut ? { whole } : {}) }
  }
  const off = estimate.value < axis.low || estimate.value > axis.high
  const text = off ? 'off the axis' : estimate.low === null || estimate.high === null ? 'no interval' : ''
  if (text === '') return { lines: [], x: 0, anchor: 'start' }
  const x = Math.max(left, Math.min(right, scale(Math.max(axis.low, Math.min(axis.high, estimate.value)))))
  const clear = x + NOTE_DISTANCE + textWidth(text, SMALL_TEXT) <= right
  return { lines: [text], x: clear ? x + NOTE_DISTANCE : x - NOTE_DISTANCE, anchor: clear ? 'start' : 'end' }
}

/** Half the stub that stands for a missing interval, and where the words beside it begin. */
export const STUB = 16
const NOTE_DISTANCE = STUB + 6

function noteItems(note: Note, middle: number): readonly TextItem[] {
  const top = middle - (note.lines.length * LINE) / 2
  return note.lines.map((text, index) => ({
    role: 'note',
    text,
    style: SMALL_TEXT,
    anchor: note.anchor,
    x: note.x,
    y: top + index * LINE + LINE / 2 + MIDDLE,
    ...(note.whole === undefined ? {} : { whole: visibleText(note.whole) }),
  }))
}

function lineItems(
  wrapped: { readonly lines: readonly string[]; readonly cut: boolean },
  at: { readonly role: TextItem['role']; readonly style: TextStyle; readonly top: number; readonly whole: string },
): readonly TextItem[] {
  return wrapped.lines.map((text, index) => ({
    role: at.role,
    text,
    style: at.style,
    anchor: 'start',
    x: 0,
    y: at.top + index * LINE + LINE / 2 + MIDDLE,
    ...(wrapped.cut ? { whole: visibleText(at.whole) } : {}),
  }))
}

function styleOf(estimate: Estimate): TextStyle {
  return estimate.role === 'overall' ? FOOT_TEXT : ROW_TEXT
}

/** Group by group in the order of their first appearance; where none has a name there are no headings. */
function inGroups(estimates: readonly Estimate[]): readonly { readonly heading: string | undefined; readonly members: readonly Estimate[] }[] {
  const groups = Map.groupBy(estimates, (estimate) => estimate.group)
  const named = groups.size > 1 || !groups.has(undefined)
  return [...groups].map(([group, members]) => ({ heading: named ? (group ?? 'Other') : undefined, members }))
}

/** One panel a unit; the overall's unit comes first. */
function panelUnits(answer: Answer, { scope }: PictureOptions): readonly { readonly unit: string; readonly estimates: readonly Estimate[] }[] {
  const told = answer.estimates.filter((estimate) => estimate.scope === scope && estimate.role !== 'worth')
  const workloads = told.filter((estimate) => estimate.role === 'workload')
  // One row in all needs no foot that repeats it.
  const drawn = workloads.length === 1 ? workloads : told
  const first = drawn.find((estimate) => estimate.role === 'overall')?.unit
  const units = new Set([...(first === undefined ? [] : [first]), ...drawn.map((estimate) => estimate.unit)])
  return [...units].map((unit) => ({ unit, estimates: drawn.filter((estimate) => estimate.unit === unit) }))
}

function nothingToDraw(answer: Answer, { scope, width }: PictureOptions, form: GainLayout['form']): GainLayout {
  const why = viewOf(answer, scope).unavailable ?? 'There is nothing to draw yet.'
  const wrapped = wrapText(why, ROW_TEXT, { width, maxLines: 4 })
  const texts = lineItems(wrapped, { role: 'note', style: ROW_TEXT, top: EDGE, whole: why })
  return { form, width, height: EDGE * 2 + wrapped.lines.length * LINE, panels: [], texts }
}

function checkWidth(width: number): number {
  if (!Number.isFinite(width) || width <= 0) throw new RangeError(`width must be a positive number of pixels; got ${width}`)
  return Math.max(LEAST_WIDTH, width)
}
