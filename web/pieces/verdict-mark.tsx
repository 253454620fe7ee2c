// A verdict at a glance: the shape says it, the colour repeats it. The words always stand beside it.
import type { ReactNode } from 'react'
import type { Verdict } from '@guardband/model'
import { toneMark } from '@guardband/questions/marks'
import { Picture } from './picture.tsx'

export function VerdictMark({ verdict }: { readonly verdict: Verdict }): ReactNode {
  return (
    <>
      <Picture root={toneMark(verdict.tone, isHollow(verdict.code) ? 'hollow' : 'filled')} />
      <span className="unseen">{verdict.words}: </span>
    </>
  )
}

/** The direction is known, its size against what matters is not. */
function isHollow(code: string): boolean {
  return code.endsWith('-unclear')
}
