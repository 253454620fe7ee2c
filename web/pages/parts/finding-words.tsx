// What stands behind a criterion of a bin, in words: never a bare figure.
import type { ReactNode } from 'react'
import type { SortingReply } from '@guardband/model/api'
import { counted, decimalsFor, fixed } from '@guardband/model/figures'
import { unitText } from '@guardband/model/units'
import { readingText } from '../../pieces/amounts.ts'

export type Finding = SortingReply['bins'][number]['criteria'][number]
export type State = Finding['state']

export function StateMark({ state }: { readonly state: State }): ReactNode {
  return (
    <svg className="mark" viewBox="0 0 16 16" width="12" height="12" aria-hidden="true" focusable="false">
      {state === 'met' ? <circle cx="8" cy="8" r="5.5" fill="currentColor" /> : null}
      {state === 'not met' ? <path d="m3 3 10 10M13 3 3 13" stroke="currentColor" strokeWidth="2.6" strokeLinecap="round" /> : null}
      {state === 'open' ? <circle cx="8" cy="8" r="5" fill="none" stroke="currentColor" strokeWidth="2" /> : null}
    </svg>
  )
}

/** "1851 points, 3 starts, 9 runs between 1840 and 1862; 1 run failed". */
export function findingText(finding: Finding, criterion: { readonly unit: string; readonly what: 'measure' | 'clean runs' }): string {
  const failed = finding.failed === 0 ? [] : [counted(finding.failed, criterion.what === 'clean runs' ? 'failure' : 'failed run')]
  const aside = finding.setAside === 0 ? [] : [`${fixed(finding.setAside, 0)} set aside`]
  const tunes = finding.tunes > 1 ? [`over ${finding.tunes} tunes`] : []
  const basis = `${counted(finding.runs, criterion.what === 'clean runs' ? 'clean run' : 'run')} in ${counted(finding.starts, 'start')}`
  if (criterion.what === 'clean runs') return [...(finding.runs === 0 && finding.failed === 0 ? ['no run yet'] : [basis]), ...failed, ...aside].join('; ')
  if (finding.mean === null || finding.low === null || finding.high === null) return [...(finding.failed === 0 ? ['no run yet'] : ['nothing measured']), ...failed, ...aside].join('; ')
  const unit = unitText(criterion.unit)
  const spread = finding.high > finding.low
  const mean = spread ? `${fixed(finding.mean, decimalsFor((finding.high - finding.low) / 2))}${unit === '' ? '' : ` ${unit}`}` : readingText(finding.mean, criterion.unit)
  const runs = spread ? `${basis} between ${readingText(finding.low, '')} and ${readingText(finding.high, '')}` : basis
  return [`${mean} on average: ${runs}`, ...tunes, ...failed, ...aside].join('; ')
}
