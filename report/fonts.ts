// The look's two typefaces, so that a report reads the same on a machine that has neither; both are under the Open Font License 1.1.
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'

export interface Typeface {
  readonly family: string
  /** woff2, base64. */
  readonly data: string
}

/** Latin letters only: 34 kB and 18 kB; other scripts fall back to what the reader's machine has. */
export function packagedTypefaces(): readonly Typeface[] {
  cached ??= FACES.map(({ family, url }) => ({ family, data: readFileSync(fileURLToPath(url)).toString('base64') }))
  return cached
}

/** The `@font-face` rules, with nothing to fetch. */
export function typefaceRules(typefaces: readonly Typeface[]): string {
  return typefaces
    .map(({ family, data }) => `@font-face{font-family:"${family}";font-style:normal;font-weight:200 800;font-display:swap;src:url(data:font/woff2;base64,${data}) format("woff2")}`)
    .join('\n')
}

const FACES = [
  {
    family: 'Atkinson Hyperlegible Next Variable',
    url: import.meta.resolve('@fontsource-variable/atkinson-hyperlegible-next/files/atkinson-hyperlegible-next-latin-wght-normal.woff2'),
  },
  {
    family: 'Atkinson Hyperlegible Mono Variable',
    url: import.meta.resolve('@fontsource-variable/atkinson-hyperlegible-mono/files/atkinson-hyperlegible-mono-latin-wght-normal.woff2'),
  },
] as const

let cached: readonly Typeface[] | undefined
