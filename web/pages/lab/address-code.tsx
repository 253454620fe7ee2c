// An address as a square pattern that a phone's camera reads (ISO/IEC 18004).
import type { ReactNode } from 'react'
import encode from 'qr'

export function AddressCode({ text }: { readonly text: string }): ReactNode {
  const rows = encode(text, 'raw', { ecc: 'medium', border: QUIET })
  const size = rows.length
  // One path of unit squares; runs of dark ones in a row are one stroke.
  const path = rows.flatMap((row, y) => darkRuns(row).map(({ from, length }) => `M${from} ${y}h${length}v1h${-length}z`)).join('')
  return (
    <svg className="address-code" viewBox={`0 0 ${size} ${size}`} role="img" aria-label={`Pattern for a camera: ${text}`} shapeRendering="crispEdges">
      <rect width={size} height={size} fill="#fff" />
      <path d={path} fill="#000" />
    </svg>
  )
}

/** Light modules around it, as the standard asks for. */
const QUIET = 4

function darkRuns(row: readonly boolean[]): readonly { readonly from: number; readonly length: number }[] {
  const runs: { from: number; length: number }[] = []
  for (const [x, dark] of row.entries()) {
    const last = runs.at(-1)
    if (!dark) continue
    if (last !== undefined && last.from + last.length === x) last.length += 1
    else runs.push({ from: x, length: 1 })
  }
  return runs
}
