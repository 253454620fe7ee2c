// The Gain picture: a row per workload with point, interval and the band of gains too small to matter; groups and overall at the foot.
import { headlineText, viewOf, type Answer, type Estimate } from '@guardband/model'
import type { PictureOptions } from '../define.ts'
import { arrowMark, barMark, COLOURS, pointMark, round, stubMark, type Tone } from '../marks.ts'
import { node, type PictureNode } from '../picture-node.ts'
import { visibleText } from '../visible-text.ts'
import { layOutGain, STUB, type GainLayout, type PanelLayout, type RowLayout, type TextItem } from './layout.ts'

export { toneMark, type Tone } from '../marks.ts'
export { pictureText, type PictureNode } from '../picture-node.ts'

/** Draws the answer's estimates of one scope. The same answer and options give the same tree. */
export function picture(answer: Answer, options: PictureOptions): PictureNode {
  const layout = layOutGain(answer, options)
  const title = `Gain of ${visibleText(answer.sides[1])} over ${visibleText(answer.sides[0])}, ${options.scope}`
  return node(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      class: `picture ${layout.form}`,
      viewBox: `0 0 ${round(layout.width)} ${round(layout.height)}`,
      width: round(layout.width),
      height: round(layout.height),
      role: 'img',
      'aria-label': title,
      'font-family': 'var(--text, system-ui, sans-serif)',
    },
    [node('title', {}, [title]), node('desc', {}, [description(answer, options)]), ...layout.panels.map((panel) => drawPanel(panel, layout)), ...layout.texts.map(drawText)],
  )
}

/** The body of an estimate's point: filled once its whole interval lies beyond the band. */
export function bodyOf(estimate: Estimate): 'filled' | 'hollow' {
  const { low, high, bandLow, bandHigh } = estimate
  if (low === null || high === null) return 'hollow'
  if (estimate.verdict?.tone === 'same') return 'filled'
  return low >= (bandHigh ?? 0) || high <= (bandLow ?? 0) ? 'filled' : 'hollow'
}

function description(answer: Answer, { scope }: PictureOptions): string {
  const rows = answer.estimates.filter((estimate) => estimate.scope === scope && estimate.role !== 'worth')
  const byWords = new Map<string, string[]>()
  for (const estimate of rows) {
    const words = estimate.value === null ? 'No value' : (estimate.verdict?.words ?? 'No verdict')
    byWords.set(words, [...(byWords.get(words) ?? []), estimate.label])
  }
  const verdicts = [...byWords].map(([words, labels]) => `${words}: ${labels.join('; ')}.`)
  return visibleText([headlineText(viewOf(answer, scope).headline), ...verdicts, answer.band].join(' '))
}

function drawPanel(panel: PanelLayout, layout: GainLayout): PictureNode {
  return node('g', { class: 'panel', 'data-unit': visibleText(panel.unit) }, [
    ...drawBands(panel, layout),
    ...drawGrid(panel, layout),
    ...panel.rules.map((y) => node('line', { class: 'rule', x1: 0, x2: round(panel.plot.right), y1: round(y), y2: round(y), stroke: COLOURS.rule })),
    ...panel.texts.map(drawText),
    ...panel.rows.map((row) => drawRow(row, panel)),
  ])
}

/** One band behind all rows where they share it; a piece a row where they don't, or where labels stand between the bars. */
function drawBands(panel: PanelLayout, layout: GainLayout): readonly PictureNode[] {
  const bands = panel.rows.map(({ estimate, strip }) => ({ low: estimate.bandLow, high: estimate.bandHigh, strip }))
  const [first] = bands
  const shared = layout.form === 'wide' && bands.every((band) => band.low === first.low && band.high === first.high)
  const pieces = shared ? bands.slice(0, 1).map((band) => ({ ...band, strip: { from: panel.plot.top, to: panel.plot.bottom } })) : bands
  return pieces.flatMap(({ low, high, strip }) => {
    if (low === null || high === null) return []
    const from = xOf(panel, Math.min(low, high))
    const to = xOf(panel, Math.max(low, high))
    return [node('rect', { class: 'band', x: round(from), y: round(strip.from), width: round(to - from), height: round(strip.to - strip.from), fill: COLOURS.band })]
  })
}

function drawGrid(panel: PanelLayout, layout: GainLayout): readonly PictureNode[] {
  const strips = layout.form === 'wide' ? [{ from: panel.plot.top, to: panel.plot.bottom }] : panel.rows.map((row) => row.strip)
  const line = (value: number, stroke: string, name: string) =>
    strips.map((strip) => node('line', { class: name, x1: round(xOf(panel, value)), x2: round(xOf(panel, value)), y1: round(strip.from), y2: round(strip.to), stroke }))
  return [...panel.axis.ticks.filter((tick) => tick.value !== 0).flatMap((tick) => line(tick.value, COLOURS.hair, 'grid')), ...line(0, COLOURS.faint, 'zero')]
}

function drawRow(row: RowLayout, panel: PanelLayout): PictureNode {
  const { estimate } = row
  const tone: Tone = estimate.verdict?.tone ?? 'none'
  const title = [`${estimate.label}: ${estimate.value === null ? 'no value' : (estimate.verdict?.words ?? 'no verdict')}`, ...(estimate.note === undefined ? [] : [estimate.note])].join('. ')
  return node('g', { class: `row ${row.weight} tone-${tone}`, 'data-key': visibleText(estimate.key) }, [
    node('title', {}, [visibleText(title)]),
    // A row without a value interrupts grid and band, so that the words in it can be read.
    ...(estimate.value === null ? [node('rect', { class: 'gap', x: round(panel.plot.left), y: round(row.strip.from), width: round(panel.plot.right - panel.plot.left), height: round(row.strip.to - row.strip.from), fill: COLOURS.sheet })] : []),
    ...row.texts.map(drawText),
    ...drawEstimate(row, panel, tone),
  ])
}

function drawEstimate({ estimate, weight, y }: RowLayout, panel: PanelLayout, tone: Tone): readonly PictureNode[] {
  const { value, low, high } = estimate
  if (value === null) return []
  const { left, right } = panel.plot
  const { axis } = panel
  const inside = value >= axis.low && value <= axis.high
  const point = inside ? [pointMark(tone, { x: xOf(panel, value), y, radius: RADIUS[weight], body: bodyOf(estimate) })] : []
  if (low === null || high === null) {
    const x = xOf(panel, value)
    return [stubMark(tone, { from: Math.max(left, x - STUB), to: Math.min(right, x + STUB), y }), ...offEdge(panel, tone, { low: value, high: value }, y), ...point]
  }
  const ends = { low: Math.min(low, high, value), high: Math.max(low, high, value) }
  const bar = { from: xOf(panel, ends.low), to: xOf(panel, ends.high) }
  const drawn = bar.to - bar.from < STUB && !inside ? { from: Math.max(left, bar.from - STUB), to: Math.min(right, bar.to + STUB) } : bar
  return [barMark(tone, { ...drawn, y, thickness: THICKNESS[weight] }), ...offEdge(panel, tone, ends, y), ...point]
}

function offEdge(panel: PanelLayout, tone: Tone, ends: { readonly low: number; readonly high: number }, y: number): readonly PictureNode[] {
  return [
    ...(ends.low < panel.axis.low ? [arrowMark(tone, { x: panel.plot.left - ARROW_OUT, y, towards: 'left' as const })] : []),
    ...(ends.high > panel.axis.high ? [arrowMark(tone, { x: panel.plot.right + ARROW_OUT, y, towards: 'right' as const })] : []),
  ]
}

function drawText(item: TextItem): PictureNode {
  const { role, style } = item
  return node(
    'text',
    {
      class: role,
      x: round(item.x),
      y: round(item.y),
      'text-anchor': item.anchor,
      'font-size': style.size,
      'font-weight': style.weight === 'bold' ? 700 : 400,
      ...(style.face === 'mono' ? { 'font-family': 'var(--mono, ui-monospace, monospace)' } : {}),
      fill: role === 'label' || role === 'foot' ? COLOURS.ink : COLOURS.soft,
      // The words in the plot stand on grid and band: a rim in the sheet's colour keeps them legible.
      ...(role === 'note' ? { stroke: COLOURS.sheet, 'stroke-width': 4, 'stroke-linejoin': 'round', 'paint-order': 'stroke' } : {}),
    },
    [...(item.whole === undefined ? [] : [node('title', {}, [item.whole])]), item.text],
  )
}

/** Where a value stands; what lies past the plotted range stands at its edge. */
function xOf({ axis, plot }: PanelLayout, value: number): number {
  const inRange = Math.max(axis.low, Math.min(axis.high, value))
  return plot.left + ((inRange - axis.low) / (axis.high - axis.low)) * (plot.right - plot.left)
}

const RADIUS = { workload: 6, group: 6.5, overall: 8 } as const
const THICKNESS = { workload: 2.5, group: 3.25, overall: 4.5 } as const
/** How far an arrow's tip stands past the plot. */
const ARROW_OUT = 8
