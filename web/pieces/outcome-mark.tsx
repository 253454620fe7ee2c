// How a run ended, by shape and word: a dot for a result, a cross for a failure, a dash where a person stopped it.
import type { ReactNode } from 'react'
import { COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES, type Outcome } from '@guardband/model/records/run'

export function OutcomeMark({ outcome }: { readonly outcome: Outcome }): ReactNode {
  const kind = outcomeKind(outcome)
  return (
    <span className={`outcome outcome-${kind}`}>
      <svg className="mark" viewBox="0 0 16 16" width="12" height="12" aria-hidden="true" focusable="false">
        {kind === 'result' ? <circle cx="8" cy="8" r="4.5" fill="currentColor" /> : null}
        {kind === 'failure' ? <path d="m3 3 10 10M13 3 3 13" stroke="currentColor" strokeWidth="2.6" strokeLinecap="round" /> : null}
        {kind === 'neither' ? <path d="M3 8h10" stroke="currentColor" strokeWidth="2.6" strokeLinecap="round" /> : null}
      </svg>{' '}
      {outcome}
    </span>
  )
}

export function outcomeKind(outcome: Outcome): 'result' | 'failure' | 'neither' {
  if (COMPARABLE_OUTCOMES.has(outcome)) return 'result'
  return NEUTRAL_OUTCOMES.has(outcome) ? 'neither' : 'failure'
}
