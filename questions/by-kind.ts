// What computing answers needs of each question kind and no more: a worker that loads drawing and telling too starts a fifth later.
import type { Answer } from '@guardband/model'
import type { Compute } from './define.ts'
import { GAIN_REVISION } from './gain/revision.ts'

/** An answer of its kind that another revision computed is computed anew. */
export const revisions: Readonly<Record<Answer['kind'], number>> = { gain: GAIN_REVISION }

/** Loads the code of a kind. */
export const loadCompute: Readonly<Record<Answer['kind'], () => Promise<Compute>>> = {
  gain: async () => (await import('./gain/compute.ts')).compute,
}
