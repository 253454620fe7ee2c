// What the page knows of each kind of question: its name at once, its pictures and tables when an answer of it is opened.
import type { Answer, AnswerScope, Estimate } from '@guardband/model/answer'
import type { AnswerTable, PictureOptions } from '@guardband/questions/define'
import type { PictureNode } from '@guardband/questions/picture-node'

export interface KindView {
  readonly picture: (answer: Answer, options: PictureOptions) => PictureNode
  readonly caption: (answer: Answer) => string
  readonly table: (answer: Answer, scope: AnswerScope) => AnswerTable
  /** The body of an estimate's shape, as in the picture. */
  readonly bodyOf: (estimate: Estimate) => 'filled' | 'hollow'
}

export const KIND_NAMES: Readonly<Record<Answer['kind'], string>> = { gain: 'Gain' }

/** The same promise each time. */
export function kindView(kind: Answer['kind']): Promise<KindView> {
  const begun = views.get(kind) ?? LOADERS[kind]()
  views.set(kind, begun)
  // A file that did not come, as after an update of the hub, is asked for again next time.
  begun.catch(() => views.delete(kind))
  return begun
}

const LOADERS: Readonly<Record<Answer['kind'], () => Promise<KindView>>> = {
  gain: async () => (await import('./kind-gain.ts')).gainView,
}
const views = new Map<Answer['kind'], Promise<KindView>>()
