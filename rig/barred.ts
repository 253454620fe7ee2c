// Which steps a plan no longer carries out after crashes: those of a tune that has failed, and those further from base than one that crashed.
import type { Plan, PlanLimits, PlanTune } from '@guardband/model'
import { counted, planLimitsSchema } from '@guardband/model'
import type { Crash } from './crashes.ts'
import { furtherFromBase, notComparable } from './further-from-base.ts'

export interface Bar {
  readonly kind: 'failed' | 'further'
  readonly why: string
}

/** Why this tune is not put in force any more; null where it may be. */
export function barOf(plan: Plan, tuneName: string, crashes: readonly Crash[]): Bar | null {
  const { crashesPerTune } = limitsOf(plan)
  const own = crashes.filter(({ tune }) => tune === tuneName)
  if (own.length >= crashesPerTune) return { kind: 'failed', why: `the tune failed: ${counted(own.length, 'crash', 'crashes')} (${[...new Set(own.map(({ outcome }) => outcome))].join(', ')})` }
  const base = tuneOf(plan, plan.base)
  const tune = tuneOf(plan, tuneName)
  if (base === undefined || tune === undefined) return null
  for (const crash of crashes) {
    const crashed = tuneOf(plan, crash.tune)
    if (crashed === undefined || crash.tune === tuneName) continue
    const key = furtherFromBase(tune, crashed, base)
    if (key !== null) return { kind: 'further', why: `in ${key} it stands further from "${base.name}" than "${crashed.name}", which crashed (${crash.outcome})` }
  }
  return null
}

/** Settings of this tune that can't be held against a tune that crashed, nor against base: none where nothing crashed or no base is named. */
export function unlikeBase(plan: Plan, tuneName: string, crashes: readonly Crash[]): readonly string[] {
  const base = tuneOf(plan, plan.base)
  const tune = tuneOf(plan, tuneName)
  if (base === undefined || tune === undefined || tune === base || !crashes.some((crash) => crash.tune !== tuneName)) return []
  return notComparable(tune, base)
}

export function limitsOf(plan: Plan): PlanLimits {
  return plan.limits ?? planLimitsSchema.parse({})
}

function tuneOf(plan: Plan, name: string | undefined): PlanTune | undefined {
  return plan.tunes.find((tune) => tune.name === name)
}
