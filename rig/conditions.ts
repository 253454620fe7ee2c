// The conditions of a start: what the plan says stands, what the machine says fills the rest, and where the two differ is said.
import type { Conditions } from '@guardband/model'
import { captureConditions, type CapturedCondition } from './conditions-linux.ts'

export interface StartConditions {
  readonly conditions: Conditions
  /** "the plan says firmware 1.08; the machine says 1.09", one each. */
  readonly remarks: readonly string[]
}

/** Those of a start that is made now. */
export type ReadConditions = () => StartConditions

export function mergeConditions(plan: Conditions, captured: readonly CapturedCondition[]): StartConditions {
  const filled: Conditions = Object.fromEntries(captured.flatMap(({ key, value }) => (value === null ? [] : [[key, value]])))
  const remarks = captured.flatMap(({ key, label, value }) => {
    const said = plan[key]
    return typeof said !== 'string' || value === null || agrees(said, value) ? [] : [`the plan says ${label} ${said}; the machine says ${value}`]
  })
  return { conditions: { ...filled, ...plan }, remarks }
}

/** Where nothing is read: the machine under test is another one. */
export function planConditions(plan: Conditions): ReadConditions {
  return () => ({ conditions: plan, remarks: [] })
}

/** Reads them at each start, as a tune may set the power plan or a fan. Elsewhere than on Linux the plan's own are all there is. */
export function conditionsOfThisMachine(plan: Conditions, root: string): ReadConditions {
  if (process.platform !== 'linux') return planConditions(plan)
  return () => mergeConditions(plan, captureConditions(root))
}

/** People write less than a machine says: the one may be part of the other. */
function agrees(a: string, b: string): boolean {
  const [one, other] = [a, b].map((text) => text.trim().replace(/\s+/g, ' ').toLowerCase())
  return one.includes(other) || other.includes(one)
}
