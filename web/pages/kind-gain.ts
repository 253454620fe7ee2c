// Gain as the page shows it.
import { bodyOf, picture } from '@guardband/questions/gain/picture'
import { table } from '@guardband/questions/gain/tell'
import type { KindView } from './kinds.ts'

export const gainView: KindView = {
  picture,
  caption: (answer) => `Gain of ${answer.sides[1]} over ${answer.sides[0]}. ${answer.band}`,
  table,
  bodyOf,
}
