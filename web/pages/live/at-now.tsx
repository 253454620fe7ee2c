// What a rig is at this moment, in a sentence whose time counts by itself.
import type { ReactNode } from 'react'
import type { LiveRig } from '@guardband/model/api'
import { stepText } from '../../pieces/live-words.ts'
import { Elapsed } from '../../pieces/moving-time.tsx'

export function AtNow({ rig, ahead }: { readonly rig: LiveRig; readonly ahead: number }): ReactNode {
  const { step } = rig.state
  if (step === null) return null
  return (
    <p className="at-now">
      {stepText(rig)}
      {', for '}
      <Elapsed rig={rig} since={step.since} ahead={ahead} />
    </p>
  )
}
