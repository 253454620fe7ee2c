// Makes the question that a person asked by names, or finds the same one asked before, whose smallest gain was fixed then.
import { isDeepStrictEqual } from 'node:util'
import type { Lab } from '@guardband/lab'
import { SUITE_OF_ALL } from '@guardband/lab/intake/draft'
import { SpokenError, type GainAbout, type Side, type Slot, type SmallestGain, type Suite } from '@guardband/model'
import { findSide } from './find-side.ts'
import type { Terminal } from './terminal.ts'

export interface NamedAsk {
  readonly faster: string
  readonly than: string
  readonly suite: string | undefined
  readonly smallest: number | undefined
}

export function askByNames(lab: Lab, terminal: Terminal, named: NamedAsk): string {
  const names = { parts: lab.list('part'), tunes: lab.list('tune') }
  const [a, b] = [findSide(named.than, names), findSide(named.faster, names)]
  if (isDeepStrictEqual(a, b)) throw new SpokenError({ code: 'ask-same', message: `both sides are "${named.faster}".`, mend: 'Name two different tunes or parts.' })
  const suiteId = findSuite(lab.list('suite'), named.suite).id
  const slot = slotOf(lab, [a, b])
  const before = lab.list('question').find(({ ask: { about } }) =>
    isDeepStrictEqual([about.a, about.b, about.suiteId, about.slot], [a, b, suiteId, slot]) && (named.smallest === undefined || named.smallest === about.smallestGain.percent),
  )
  if (before !== undefined) return before.id
  const about: GainAbout = { a, b, suiteId, slot, smallestGain: smallestGainOf(lab, terminal, { a, b, said: named.smallest }) }
  return lab.ask({ ask: { kind: 'gain', about } }, { who: terminal.who })
}

/** What a person says now is fixed now; what the plan of the runs fixed was fixed then. */
function smallestGainOf(lab: Lab, terminal: Terminal, { a, b, said }: { readonly a: Side; readonly b: Side; readonly said: number | undefined }): SmallestGain {
  const offer = lab.smallestGain({ a, b })
  if (said === undefined && offer.from === 'plan') return { percent: offer.percent, fixedAt: offer.fixedAt }
  return { percent: said ?? offer.percent, fixedAt: new Date(terminal.now()).toISOString() }
}

/** Unnamed, the only one there is, or the one of all workloads that intake keeps. */
function findSuite(suites: readonly Suite[], named: string | undefined): Suite {
  const wanted = named ?? (suites.length > 1 ? SUITE_OF_ALL : suites[0]?.name)
  const found = suites.filter((suite) => suite.name.toLowerCase() === wanted?.toLowerCase())
  const [suite, second] = found
  if (suite !== undefined && second === undefined) return suite
  const names = suites.map(({ name }) => `"${name}"`).join(', ')
  if (suites.length === 0) throw new SpokenError({ code: 'no-suite', message: 'the workspace has no suite of workloads to compare over.', mend: 'Take in runs first: npx guardband take runs.csv.' })
  if (named === undefined) throw new SpokenError({ code: 'suite-which', message: `the workspace has ${suites.length} suites.`, mend: `Choose one with --suite: ${names}.` })
  throw new SpokenError({ code: 'suite-unknown', message: `there is no one suite "${named}".`, mend: `There is ${names}.` })
}

/** The slot whose samples are compared: that of a part named, otherwise the processor where there is one. */
function slotOf(lab: Lab, sides: readonly Side[]): Slot {
  const parts = lab.list('part')
  const named = parts.filter((part) => sides.some((side) => side.partId === part.id)).map((part) => part.slot)
  const [slot, ...others] = new Set(named)
  if (others.length > 0) throw new SpokenError({ code: 'slots-differ', message: `the two parts take different slots: ${[slot, ...others].join(', ')}.`, mend: 'Compare parts that take the same one.' })
  if (slot !== undefined) return slot
  return parts.some((part) => part.slot === 'processor') ? 'processor' : (parts[0]?.slot ?? 'processor')
}
