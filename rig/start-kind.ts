// Which kind of start a restart of the machine amounts to. A rig sees that it restarted, not whether the power was off: a person says, or it stays at what is known.
import type { StartHow } from '@guardband/model'
import { sameBoot } from './boot-id.ts'
import type { JournalFileReading } from './journal-folder.ts'
import type { RigContext } from './rig-context.ts'
import type { StartStep } from './step-source.ts'

export interface StartKind {
  readonly how: StartHow
  /** How it differs from the plan and who says so; null where it doesn't. */
  readonly message: string | null
}

/** For a start before which the machine restarted. */
export async function kindAfterRestart(context: RigContext, change: StartStep): Promise<StartKind> {
  const { present } = context.people
  const question = `${change.id}: the machine was started anew before this start. Was it powered off and on (cold), restarted (warm), or restarted with its memory training restored (restored)?`
  const { answer } = present ? await context.ask({ kind: 'choice', step: change.id, text: question, words: [...HOWS] }) : { answer: 'warm' }
  const how = HOWS.find((word) => word === answer) ?? 'warm'
  if (how === change.start) return { how, message: null }
  const who = present ? `a person says that the machine came up by a ${how} one` : 'the machine restarted, and nobody was there to say how, so it counts as a warm one'
  return { how, message: `planned as a ${change.start} start; ${who}` }
}

const HOWS = ['cold', 'warm', 'restored'] as const

/** Whether the machine restarted since the last start that came about, or, before the first, since this plan's first journal. */
export function restartedSince(journals: readonly JournalFileReading[], bootId: string): boolean {
  const opened = journals.flatMap(({ open, entries }) => (open === null ? [] : [{ boot: open.bootId, entries }]))
  const started = opened.findLast(({ entries }) => entries.some(({ body }) => body.type === 'begin' || (body.type === 'start' && body.result !== 'no start')))
  return (started === undefined ? opened : [started]).some(({ boot }) => !sameBoot(boot, bootId))
}
