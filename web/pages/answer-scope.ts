// The scope of an answer as its address has it.
import type { Answer, AnswerScope } from '@guardband/model'

export type ScopeWord = 'these' | 'like'

export const SCOPES: readonly { readonly word: ScopeWord; readonly scope: AnswerScope }[] = [
  { word: 'these', scope: 'these samples' },
  { word: 'like', scope: 'samples like these' },
]

/** The scope asked for where the answer has a view of it, else the answer's own. */
export function scopeOf(answer: Answer, word: ScopeWord | undefined): AnswerScope {
  const asked = SCOPES.find((entry) => entry.word === word)?.scope
  return asked !== undefined && answer.views.some((view) => view.scope === asked) ? asked : answer.scope
}
