// Ceilings on the rig: those of the plan and the rig's own, which stand in a file beside its approvals; all that hold add up, so the tighter wins.
import { readFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { SpokenError, ceilingFindings, coldSentences, planCeilingSchema, type Ceiling, type CeilingPart, type Plan, type PlanCeiling, type PlanTune } from '@guardband/model'
import { z } from 'zod'
import { scanJson } from './json-places.ts'

/** `ceilings.json` in the folder of the approvals. */
export function ceilingsPath(approvalsFile: string): string {
  return join(dirname(approvalsFile), 'ceilings.json')
}

/** An absent file means none; a broken one throws, so that no ceiling is forgotten in silence. */
export function readCeilings(path: string): readonly PlanCeiling[] {
  let text: string
  try {
    text = readFileSync(path, 'utf8')
  } catch (cause) {
    if (cause instanceof Error && 'code' in cause && cause.code === 'ENOENT') return []
    throw cause
  }
  const { fault } = scanJson(text)
  const parsed = fault === null ? z.array(planCeilingSchema).safeParse(JSON.parse(text)) : null
  if (parsed?.success === true) return parsed.data
  const [issue] = parsed?.error?.issues ?? []
  const why = fault?.message ?? `${issue?.path.join('.') ?? ''} ${issue?.message ?? ''}`.trim()
  throw new SpokenError({ code: 'ceilings-unreadable', place: path, message: `the rig's own ceilings can't be read (${why}); nothing runs without them.`, mend: 'Correct the file: a list of ceilings as in docs/guide/rig-plan.md.' })
}

/** Throws `past-ceiling` for a tune that may not be put in force: asked once before the plan begins, and again at each start. */
export type CeilingCheck = (tune: PlanTune) => void

export interface CeilingOrder {
  readonly plan: Plan
  /** Read afresh each time: a ceiling made while a plan runs holds from its next start on. */
  readonly own: () => readonly PlanCeiling[]
}

/**
 * A tune passes the plan's ceilings only where the plan says why and by whom (`override`); nothing in a plan passes the rig's own. What a tune asks counts, and what its
 * read-back expects: "auto" has no bound, so what it is expected to come to has. A value that can't be held against its ceiling is refused like one past it.
 */
export function createCeilingCheck({ plan, own }: CeilingOrder): CeilingCheck {
  return (tune) => {
    const ours = firstPast(plan, tune, own())
    if (ours !== null) throw refusal(tune, ours, 'one of this rig\'s own ceilings, which no plan passes', 'Take the setting back; or, at the rig, see whether that ceiling is right.')
    const theirs = tune.override === undefined ? firstPast(plan, tune, plan.ceilings ?? []) : null
    if (theirs !== null) throw refusal(tune, theirs, 'a ceiling of the plan', 'Take the setting back; or give the tune an "override" with a reason and who says so, which stays in every report of it.')
  }
}

/** Cold work is done by people, never by a rig that is left alone. Throws `cold-work`. */
export function refuseColdWork({ plan, own }: CeilingOrder): void {
  const { ambient, coolant } = plan.conditions
  const [cold] = coldSentences({ ceilings: numbered([...own(), ...(plan.ceilings ?? [])]), part: partOf(plan), ambient, coolant })
  if (cold === undefined) return
  throw new SpokenError({ code: 'cold-work', place: `plan ${plan.id}`, message: `nobody would be there, and ${cold}`, mend: 'Cold work needs a person beside it: run this plan yourself.' })
}

/** The sentence of the first setting past one of them. */
function firstPast(plan: Plan, tune: PlanTune, ceilings: readonly PlanCeiling[]): string | null {
  if (ceilings.length === 0) return null
  const settings = [
    ...tune.settings.flatMap(({ key, scope, asked }) => (asked.shape === 'auto' || asked.shape === 'unchanged' ? [] : [{ key, scope, value: asked }])),
    ...tune.readBack.flatMap(({ key, expected, unit }) => (typeof expected === 'number' && unit !== undefined ? [{ key, scope: MACHINE, value: { shape: 'scalar', value: expected, unit } as const }] : [])),
  ]
  const findings = ceilingFindings({ settings, ceilings: numbered(ceilings), part: partOf(plan) })
  return (findings.find(({ what }) => what === 'past') ?? findings[0])?.sentence ?? null
}

const MACHINE = { level: 'machine' } as const

/** No slot is named: a plan need not list every part in the machine, and a ceiling for the memory holds all the same. */
function partOf({ conditions: { cooling } }: Plan): CeilingPart {
  return cooling === undefined ? {} : { cooling }
}

/** As a lab's own, which are records with ids. */
function numbered(ceilings: readonly PlanCeiling[]): readonly Ceiling[] {
  return ceilings.map((ceiling, index) => ({ ...ceiling, kind: 'ceiling', id: `ceiling-${index + 1}` }))
}

function refusal({ name }: PlanTune, sentence: string, whose: string, mend: string): SpokenError {
  return new SpokenError({ code: 'past-ceiling', place: `tune "${name}"`, message: `it is not put in force: ${sentence.replace(/\.$/, '')} (${whose}).`, mend })
}
