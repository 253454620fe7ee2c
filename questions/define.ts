// What a question kind consists of: ask (what it is about), compute (pure), tell (sentences and table), picture (drawn from the answer alone).
import type { Answer, AnswerScope, Snapshot } from '@guardband/model'
import type { z } from 'zod'
import type { PictureNode } from './picture-node.ts'

export interface TableColumn {
  readonly key: string
  /** Header with the unit in it: "gain, %". */
  readonly header: string
  readonly align: 'text' | 'number'
}

export interface TableRow {
  /** group: a line that names the rows below; total: the overall line. */
  readonly role: 'group' | 'row' | 'total'
  /** The estimate that this row shows; absent on group lines. */
  readonly estimateKey?: string
  /** One text per column; a group line has only the first. */
  readonly cells: readonly string[]
  /** Tone of the verdict in words, for shape and colour. */
  readonly tone?: 'up' | 'down' | 'same' | 'open' | 'stop'
}

export interface AnswerTable {
  readonly columns: readonly TableColumn[]
  readonly rows: readonly TableRow[]
}

export interface PictureOptions {
  readonly scope: AnswerScope
  /** Width in CSS pixels that the picture is laid out for: under 520 labels stand above their bars. */
  readonly width: number
}

/** What the one who asks for the computation may add; none of it changes the answer. */
export interface ComputeOptions {
  /** Of the snapshot, where it is known already. */
  readonly digest?: string
  /** Hears what share of the work is done, from 0 to 1, after each row of estimates. */
  readonly onProgress?: (done: number) => void
}

export type Compute = (snapshot: Snapshot, options?: ComputeOptions) => Answer

export interface QuestionKind {
  readonly kind: Answer['kind']
  /** What it asks, in words, and the schema of what it is about. */
  readonly ask: { readonly kind: Answer['kind']; readonly asks: string; readonly schema: z.ZodType }
  readonly compute: Compute
  readonly table: (answer: Answer, scope: AnswerScope) => AnswerTable
  /** The whole answer as plain text for a terminal, lines of at most `width` characters. */
  readonly text: (answer: Answer, options: { readonly scope: AnswerScope; readonly width: number }) => string
  readonly picture: (answer: Answer, options: PictureOptions) => PictureNode
}

/** The type is the check that a kind is whole; it comes back frozen. */
export function defineQuestion(kind: QuestionKind): QuestionKind {
  return Object.freeze(kind)
}
