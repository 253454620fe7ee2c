// Every question kind, by name.
import type { QuestionKind } from './define.ts'
import { gain } from './gain/index.ts'

export const questionKinds: Readonly<Record<QuestionKind['kind'], QuestionKind>> = { gain }

export * from './define.ts'
export * from './picture-node.ts'
