// The marks that pictures and verdicts share: a verdict's tone is told by the point's shape, colour comes second.
import type { Verdict } from '@guardband/model'
import { node, type PictureNode } from './picture-node.ts'

export type Tone = Verdict['tone'] | 'none'

export interface PointOptions {
  readonly x: number
  readonly y: number
  readonly radius: number
  /** filled: the whole interval lies beyond the band; hollow: part of it does not. */
  readonly body: 'filled' | 'hollow'
}

/** Colours by variable, with the light look's values for a picture that stands alone. */
export const COLOURS = {
  up: 'var(--up, #225ea8)',
  down: 'var(--down, #b3560f)',
  same: 'var(--same, #6d736f)',
  open: 'var(--same, #6d736f)',
  stop: 'var(--warn, #8a5a00)',
  none: 'var(--ink, #1b1f1d)',
  ink: 'var(--ink, #1b1f1d)',
  soft: 'var(--soft, #59615d)',
  faint: 'var(--faint, #8b918d)',
  rule: 'var(--rule, #dad7ce)',
  hair: 'var(--hair, #e8e6df)',
  band: 'var(--band, #ebe8df)',
  sheet: 'var(--sheet, #fbfaf7)',
} as const

/** Up: triangle; down: triangle on its point; same: diamond; open: ring; stop: square; without a verdict: dot. */
export function pointMark(tone: Tone, { x, y, radius: r, body }: PointOptions): PictureNode {
  const colour = COLOURS[tone]
  const hollow = body === 'hollow' || tone === 'open' || tone === 'stop'
  const paint = { class: 'point', fill: hollow ? COLOURS.sheet : colour, stroke: colour, 'stroke-width': 2, 'stroke-linejoin': 'round' }
  switch (tone) {
    case 'up':
      return node('path', { ...paint, d: polygon([[x, y - r], [x + r, y + r * 0.8], [x - r, y + r * 0.8]]) })
    case 'down':
      return node('path', { ...paint, d: polygon([[x, y + r], [x - r, y - r * 0.8], [x + r, y - r * 0.8]]) })
    case 'same':
      return node('path', { ...paint, d: polygon([[x, y - r], [x + r, y], [x, y + r], [x - r, y]]) })
    case 'stop':
      return node('path', { ...paint, d: polygon([[x - r * 0.8, y - r * 0.8], [x + r * 0.8, y - r * 0.8], [x + r * 0.8, y + r * 0.8], [x - r * 0.8, y + r * 0.8]]) })
    case 'open':
    case 'none':
      return node('circle', { ...paint, cx: round(x), cy: round(y), r: round(r * 0.85) })
  }
}

/** The same shape by itself, to stand before a verdict's words in a table; it says nothing that the words don't. */
export function toneMark(tone: Tone, body: PointOptions['body'] = 'filled'): PictureNode {
  return node('svg', { class: `mark tone-${tone}`, viewBox: '0 0 16 16', width: 13, height: 13, 'aria-hidden': 'true', focusable: 'false' }, [
    pointMark(tone, { x: 8, y: 8, radius: 6, body }),
  ])
}

/** An interval bar; hatched where the comparison is not a fair one. */
export function barMark(tone: Tone, bar: { readonly from: number; readonly to: number; readonly y: number; readonly thickness: number }): PictureNode {
  const colour = COLOURS[tone]
  const { from, to, y, thickness } = bar
  if (tone !== 'stop') {
    return node('line', { class: 'interval', x1: round(from), x2: round(to), y1: round(y), y2: round(y), stroke: colour, 'stroke-width': thickness, 'stroke-linecap': 'round' })
  }
  const half = thickness + 1
  const strokes: string[] = []
  for (let x = from; x + half * 2 <= to; x += HATCH_STEP) strokes.push(`M${round(x)} ${round(y + half)}L${round(x + half * 2)} ${round(y - half)}`)
  return node('g', { class: 'interval', stroke: colour, 'stroke-width': 1.25, fill: COLOURS.sheet }, [
    node('rect', { x: round(from), y: round(y - half), width: round(Math.max(0, to - from)), height: round(half * 2) }),
    node('path', { class: 'hatch', d: strokes.join('') || 'M0 0', fill: 'none' }),
  ])
}

/** Says that the interval goes on past the edge of the plot. */
export function arrowMark(tone: Tone, arrow: { readonly x: number; readonly y: number; readonly towards: 'left' | 'right' }): PictureNode {
  const back = arrow.towards === 'right' ? -ARROW : ARROW
  const { x, y } = arrow
  return node('path', { class: 'arrow', d: polygon([[x, y], [x + back, y - ARROW * 0.7], [x + back, y + ARROW * 0.7]]), fill: COLOURS[tone] })
}

/** Short dashes to either side of a point that has no interval. */
export function stubMark(tone: Tone, stub: { readonly from: number; readonly to: number; readonly y: number }): PictureNode {
  return node('line', {
    class: 'stub', x1: round(stub.from), x2: round(stub.to), y1: round(stub.y), y2: round(stub.y), stroke: COLOURS[tone], 'stroke-width': 1.5, 'stroke-dasharray': '3 3',
  })
}

/** Hundredths of a pixel are finer than any screen and keep the text short. */
export function round(value: number): number {
  return Math.round(value * 100) / 100
}

const HATCH_STEP = 6
const ARROW = 9

function polygon(corners: readonly (readonly [number, number])[]): string {
  return `M${corners.map(([x, y]) => `${round(x)} ${round(y)}`).join('L')}Z`
}
