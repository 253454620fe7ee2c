// A picture that can leave the page: with its sentence, its scope and basis, and what its band means, so that it never stands alone.
import type { PictureNode } from '@guardband/questions/picture-node'
import { keepTogether } from '@guardband/questions/visible-text'

export interface Frame {
  readonly headline: string
  /** Below the headline: scope, confidence, basis. */
  readonly basis: string
  readonly caption: string
  /** At the foot: lab, snapshot, "simulated". */
  readonly foot: string
}

/** `measure` tells the width of a text in CSS pixels at a font, as a canvas does. */
export function framedPicture(root: PictureNode, frame: Frame, measure: (text: string, font: string) => number): PictureNode {
  const inner = { width: Number(root.attributes['width']), height: Number(root.attributes['height']) }
  const width = inner.width + 2 * EDGE
  const children: PictureNode[] = []
  let y = EDGE
  const addText = (text: string, style: TextStyle): void => {
    for (const line of linesOf(keepTogether(text), inner.width, (part) => measure(part, `${style.weight} ${style.size}px ${FACE}`))) {
      y += style.leading
      children.push({ tag: 'text', attributes: { x: EDGE, y: y - style.leading * DESCENT, 'font-size': style.size, 'font-weight': style.weight, fill: style.fill }, children: [line] })
    }
  }
  addText(frame.headline, { size: 20, weight: 600, leading: 27, fill: 'var(--ink)' })
  y += GAP / 2
  addText(frame.basis, SMALL)
  y += GAP
  children.push({ ...root, attributes: { ...root.attributes, x: EDGE, y } })
  y += inner.height + GAP
  addText(frame.caption, SMALL)
  addText(frame.foot, SMALL)
  const height = Math.ceil(y + EDGE)
  return {
    tag: 'svg',
    attributes: { xmlns: 'http://www.w3.org/2000/svg', width, height, viewBox: `0 0 ${width} ${height}`, 'font-family': 'var(--text)' },
    children: [{ tag: 'title', attributes: {}, children: [frame.headline] }, { tag: 'rect', attributes: { width, height, fill: 'var(--sheet)' }, children: [] }, ...children],
  }
}

interface TextStyle {
  readonly size: number
  readonly weight: number
  readonly leading: number
  readonly fill: string
}

const FACE = '"Atkinson Hyperlegible Next Variable", sans-serif'
const SMALL: TextStyle = { size: 13.5, weight: 400, leading: 19, fill: 'var(--soft)' }
const EDGE = 24
const GAP = 12
/** Share of a line that lies below its baseline. */
const DESCENT = 0.28

/** Breaks at spaces; a word longer than the line stands alone on one. */
function linesOf(text: string, width: number, measure: (text: string) => number): readonly string[] {
  const lines: string[] = []
  let line = ''
  for (const word of text.split(' ')) {
    const longer = line === '' ? word : `${line} ${word}`
    if (line !== '' && measure(longer) > width) {
      lines.push(line)
      line = word
    } else line = longer
  }
  return line === '' ? lines : [...lines, line]
}
