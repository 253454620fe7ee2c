// What a headline says of rigs at work, before anything else: an open question above all.
import type { LiveRig } from '@guardband/model/api'
import { asksFirst, capital, isUnderWay, STATE_WORDS } from '../../pieces/live-words.ts'

/** "North bench asks you something."; empty where none is at work. */
export function liveSentence(rigs: readonly LiveRig[]): string {
  const named = asksFirst(rigs).filter(isUnderWay)
  const asking = named.filter(({ state }) => state.ask !== null)
  const told = asking.length > 0 ? asking : named
  const [first] = told
  if (first === undefined) return ''
  const more = told.length === 1 ? '' : `, and so ${told.length === 2 ? 'does another rig' : `do ${told.length - 1} others`}`
  if (asking.length > 0) return `${capital(first.state.rig)} ${STATE_WORDS.asks}${more}.`
  return `${named.length === 1 ? `${capital(first.state.rig)} ${STATE_WORDS[first.state.state]}` : `${named.length} rigs are at work`}.`
}
