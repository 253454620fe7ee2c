// Draws a picture, which is plain data, as elements of the page.
import { createElement, type CSSProperties, type ReactNode } from 'react'
import type { PictureNode } from '@guardband/questions/picture-node'

export function Picture({ root }: { readonly root: PictureNode }): ReactNode {
  return draw(root, 0)
}

function draw(node: PictureNode, key: number): ReactNode {
  const props: Record<string, unknown> = { key }
  for (const [name, value] of Object.entries(node.attributes)) {
    if (name === 'style') props['style'] = styleOf(String(value))
    else props[propertyName(name)] = value
  }
  return createElement(node.tag, props, ...node.children.map((child, index) => (typeof child === 'string' ? child : draw(child, index))))
}

/** SVG writes `stroke-width`, the page's library `strokeWidth`; aria- and data- names stay. */
function propertyName(name: string): string {
  if (name === 'class') return 'className'
  if (name.startsWith('aria-') || name.startsWith('data-')) return name
  return name.replace(/[-:]([a-z])/g, (_whole, letter: string) => letter.toUpperCase())
}

function styleOf(text: string): CSSProperties {
  const style: Record<string, string> = {}
  for (const declaration of text.split(';')) {
    const colon = declaration.indexOf(':')
    if (colon < 0) continue
    const name = declaration.slice(0, colon).trim()
    style[name.startsWith('--') ? name : propertyName(name)] = declaration.slice(colon + 1).trim()
  }
  return style
}
