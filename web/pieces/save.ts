// Keeps something from the page as a file: text, or a picture as SVG or PNG.
import { pictureText, type PictureNode } from '@guardband/questions/picture-node'
import monoFont from '@fontsource-variable/atkinson-hyperlegible-mono/files/atkinson-hyperlegible-mono-latin-wght-normal.woff2?url'
import textFont from '@fontsource-variable/atkinson-hyperlegible-next/files/atkinson-hyperlegible-next-latin-wght-normal.woff2?url'

export function saveFile(name: string, content: Blob): void {
  const address = URL.createObjectURL(content)
  const link = document.createElement('a')
  link.href = address
  link.download = name
  link.click()
  // The browser has begun to read by then; at once would be too early in some.
  setTimeout(() => URL.revokeObjectURL(address), REVOKE_AFTER_MS)
}

/** The picture as a file of its own: with the colours of the theme in use, a ground, and its namespace. */
export function pictureFile(root: PictureNode, extra: { readonly css?: string } = {}): string {
  const style = `svg{${tokenList()}background:var(--sheet);font-family:var(--text)}${extra.css ?? ''}`
  const attributes = { xmlns: 'http://www.w3.org/2000/svg', ...root.attributes }
  return pictureText({ ...root, attributes, children: [{ tag: 'style', attributes: {}, children: [style] }, ...root.children] })
}

/** The picture in pixels, twice as fine as on a plain screen. Its fonts travel inside, as an image may fetch nothing. */
export async function picturePixels(root: PictureNode): Promise<Blob> {
  const size = { width: Number(root.attributes['width']), height: Number(root.attributes['height']) }
  const css = (await Promise.all([fontFace('Atkinson Hyperlegible Next Variable', textFont), fontFace('Atkinson Hyperlegible Mono Variable', monoFont)])).join('')
  const image = new Image()
  const address = URL.createObjectURL(new Blob([pictureFile(root, { css })], { type: 'image/svg+xml' }))
  try {
    image.src = address
    await image.decode()
    const canvas = document.createElement('canvas')
    canvas.width = size.width * FINENESS
    canvas.height = size.height * FINENESS
    const pen = canvas.getContext('2d')
    if (pen === null) throw new Error('this browser draws no images')
    pen.drawImage(image, 0, 0, canvas.width, canvas.height)
    return await new Promise((resolve, reject) => canvas.toBlob((blob) => (blob === null ? reject(new Error('the image came out empty')) : resolve(blob)), 'image/png'))
  } finally {
    URL.revokeObjectURL(address)
  }
}

/** Measures texts as this browser will draw them. */
export function textMeasure(): (text: string, font: string) => number {
  const pen = document.createElement('canvas').getContext('2d')
  if (pen === null) throw new Error('this browser draws no images')
  return (text, font) => {
    pen.font = font
    return pen.measureText(text).width
  }
}

/** A name that every file system takes. */
export function fileName(...parts: readonly string[]): string {
  const plain = parts.join('-').normalize('NFKD').replace(/[^\p{L}\p{N}]+/gu, '-')
  return plain.replace(/^-+|-+$/g, '').toLowerCase().slice(0, LONGEST_NAME) || 'guardband'
}

const REVOKE_AFTER_MS = 30_000
const FINENESS = 2
const LONGEST_NAME = 100
const TOKENS = ['ground', 'sheet', 'ink', 'soft', 'faint', 'rule', 'hair', 'accent', 'accent-soft', 'up', 'down', 'same', 'band', 'warn', 'text', 'mono']

function tokenList(): string {
  const style = getComputedStyle(document.documentElement)
  return TOKENS.map((token) => `--${token}:${style.getPropertyValue(`--${token}`).trim()};`).join('')
}

async function fontFace(family: string, address: string): Promise<string> {
  const bytes = new Uint8Array(await (await fetch(address)).arrayBuffer())
  let binary = ''
  for (const byte of bytes) binary += String.fromCharCode(byte)
  return `@font-face{font-family:"${family}";font-weight:200 800;src:url(data:font/woff2;base64,${btoa(binary)}) format("woff2")}`
}
