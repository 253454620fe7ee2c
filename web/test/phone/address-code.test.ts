// The pattern that a phone's camera reads: decoded by the other half of the library, from the squares that the page draws.
import { renderToStaticMarkup } from 'react-dom/server'
import { createElement } from 'react'
import decode from 'qr/decode.js'
import { describe, expect, it } from 'vitest'
import { AddressCode } from '../../pages/lab/address-code.tsx'

/** Paints the drawn path as a camera would see it, eight pixels a square. */
function picture(markup: string): { readonly width: number; readonly height: number; readonly data: Uint8Array } {
  const size = Number(/viewBox="0 0 (\d+)/.exec(markup)?.[1])
  const side = size * SCALE
  const data = new Uint8Array(side * side * 4).fill(255)
  for (const [, x, y, length] of markup.matchAll(/M(\d+) (\d+)h(\d+)v1h-\d+z/g)) {
    for (let row = Number(y) * SCALE; row < (Number(y) + 1) * SCALE; row++) {
      for (let column = Number(x) * SCALE; column < (Number(x) + Number(length)) * SCALE; column++) data.fill(0, (row * side + column) * 4, (row * side + column) * 4 + 3)
    }
  }
  return { width: side, height: side, data }
}

const SCALE = 8

describe('the pattern', () => {
  it('reads as the address that stands beside it', () => {
    for (const address of ['https://192.168.1.20:4891/', 'https://10.0.0.7:65535/']) {
      expect(decode(picture(renderToStaticMarkup(createElement(AddressCode, { text: address }))))).toBe(address)
    }
  })
})
