// What each key of the grid does: one letter an outcome, one letter an act.
import type { Outcome } from '@guardband/model/records/run'

export type RunOutcome = Exclude<Outcome, 'scored' | 'no start' | 'fallback start' | 'system fails to load'>

export const OUTCOME_KEYS: readonly { readonly key: string; readonly outcome: RunOutcome }[] = [
  { key: 'h', outcome: 'hung' },
  { key: 'd', outcome: 'program died' },
  { key: 'r', outcome: 'machine reset' },
  { key: 'e', outcome: 'errors' },
  { key: 'w', outcome: 'wrong result' },
  { key: 't', outcome: 'protection trip' },
  { key: 'l', outcome: 'device lost' },
  { key: 'o', outcome: 'throttled' },
  { key: 's', outcome: 'stopped by a person' },
  { key: 'p', outcome: 'passed' },
]

export type Act =
  | 'tune seen' | 'start failed' | 'training' | 'in force changed' | 'remount' | 'conditions' | 'note' | 'where it failed'
  | 'keep questioned' | 'take back' | 'next start' | 'start before' | 'turn direction'

export const ACT_KEYS: readonly { readonly key: string; readonly act: Act; readonly text: string }[] = [
  { key: 'v', act: 'tune seen', text: 'verified: I saw the tune in force' },
  { key: 'f', act: 'start failed', text: 'failed start' },
  { key: 'a', act: 'training', text: 'training of the memory' },
  { key: 'i', act: 'in force changed', text: 'in force changed here' },
  { key: 'm', act: 'remount', text: 'mounted anew' },
  { key: 'c', act: 'conditions', text: 'conditions changed' },
  { key: 'n', act: 'note', text: 'note' },
  { key: 'x', act: 'where it failed', text: 'where it failed' },
  { key: 'y', act: 'keep questioned', text: 'yes, the questioned figure is right' },
  { key: 'u', act: 'take back', text: 'undo the last entry' },
  { key: 'j', act: 'next start', text: 'jump to the next start' },
  { key: 'k', act: 'start before', text: 'back a start' },
  { key: 'g', act: 'turn direction', text: 'go down or across' },
]

export type Press = { readonly does: 'enter' } | { readonly does: 'end'; readonly outcome: RunOutcome } | { readonly does: 'act'; readonly act: Act }

/** What a key pressed alone does; nothing with a modifier, which belongs to the browser. */
export function pressOf(event: { readonly key: string; readonly ctrlKey: boolean; readonly altKey: boolean; readonly metaKey: boolean }): Press | undefined {
  if (event.ctrlKey || event.altKey || event.metaKey) return undefined
  const key = event.key.toLowerCase()
  const ending = OUTCOME_KEYS.find((candidate) => candidate.key === key)
  if (ending !== undefined) return { does: 'end', outcome: ending.outcome }
  const acting = ACT_KEYS.find((candidate) => candidate.key === key)
  return acting === undefined ? undefined : { does: 'act', act: acting.act }
}

export type Direction = 'down' | 'across'

/** What the person chose last, kept by the browser. */
export function storedDirection(storage: Pick<Storage, 'getItem'>): Direction {
  return storage.getItem(DIRECTION_KEY) === 'across' ? 'across' : 'down'
}

export function storeDirection(storage: Pick<Storage, 'setItem'>, direction: Direction): void {
  storage.setItem(DIRECTION_KEY, direction)
}

const DIRECTION_KEY = 'guardband-entry-direction'
