// What every route of the fit hands back.

import type { MeanSquares } from './mean-squares-fit.ts'

export interface Outcome {
  readonly status: 'converged' | 'boundary' | 'not identified'
  readonly route: 'balanced' | 'one cell a row' | 'profile' | 'rows differ by a shift only' | 'row variance at zero' | 'none'
  readonly lambda: number
  readonly sigma2: number
  readonly evaluations: number
  readonly means: readonly Float64Array[]
  readonly basis: ContrastBasis
}

export type ContrastBasis =
  | { readonly kind: 'none' }
  | { readonly kind: 'mean squares'; readonly fit: MeanSquares; readonly columns: readonly Int32Array[] }
  | {
      readonly kind: 'likelihood'
      readonly sigma2: number
      readonly columns: readonly Int32Array[]
      readonly groups: readonly { readonly factor: Float64Array; readonly matrixSlope: Float64Array }[]
      readonly information: Information
    }

/** Of (ln sigma2, phi). */
export interface Information {
  readonly scale: number
  readonly cross: number
  readonly phi: number
}

