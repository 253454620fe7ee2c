// A picture as plain data: an SVG element tree that a page renders as elements and a report as text.

export interface PictureNode {
  readonly tag: string
  readonly attributes: Readonly<Record<string, string | number>>
  readonly children: readonly (PictureNode | string)[]
}

export function node(tag: string, attributes: Readonly<Record<string, string | number>> = {}, children: readonly (PictureNode | string)[] = []): PictureNode {
  return { tag, attributes, children }
}

/** The tree as SVG text, escaped. */
export function pictureText(root: PictureNode): string {
  const attributes = Object.entries(root.attributes)
    .map(([name, value]) => ` ${name}="${escapeText(String(value))}"`)
    .join('')
  const inside = root.children.map((child) => (typeof child === 'string' ? escapeText(child) : pictureText(child))).join('')
  return inside === '' ? `<${root.tag}${attributes}/>` : `<${root.tag}${attributes}>${inside}</${root.tag}>`
}

function escapeText(text: string): string {
  return text.toWellFormed().replace(NOT_XML, '\ufffd').replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;')
}

/** What XML 1.0, section 2.2, leaves out of its characters: such a file would not open. */
// oxlint-disable-next-line no-control-regex -- the control characters are what it looks for
const NOT_XML = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g
