// The order of a sheet's starts: sides take turns, and samples are changed only as often as the person will pay for.
import type { Cost } from '@guardband/model/records/lab'
import type { Slot } from '@guardband/model/records/parts'
import type { SheetStart } from '@guardband/model/records/sheet'
import type { StartHow } from '@guardband/model/records/start'

/** once: each sample is put in once. there and back: twice, the second time in reverse order, so that what drifts with time weighs on all alike. every round: as often as there are starts of each. */
export type Rounds = 'once' | 'there and back' | 'every round'

export interface Combination {
  readonly tuneId: string
  readonly sampleId: string
}

/** Tunes turn around from stay to stay (A B, B A), and samples from round to round. */
export function drawUpOrder({ samples, tunes, starts, rounds }: { readonly samples: readonly string[]; readonly tunes: readonly string[]; readonly starts: number; readonly rounds: Rounds }): readonly Combination[] {
  const count = rounds === 'once' ? 1 : rounds === 'every round' ? starts : Math.min(2, starts)
  const order: Combination[] = []
  let turn = 0
  for (let round = 0; round < count; round++) {
    const stays = round % 2 === 0 ? samples : samples.toReversed()
    // What does not divide falls to the earlier rounds.
    const here = Math.floor(starts / count) + (round < starts % count ? 1 : 0)
    for (const sampleId of stays) {
      for (let start = 0; start < here; start++) {
        for (const tuneId of turn % 2 === 0 ? tunes : tunes.toReversed()) order.push({ tuneId, sampleId })
        turn += 1
      }
    }
  }
  return order
}

/** Samples of several parts in turns: first of each, second of each. */
export function inTurns(samples: readonly { readonly id: string; readonly partId: string }[]): readonly string[] {
  const byPart = [...Map.groupBy(samples, ({ partId }) => partId).values()]
  const most = Math.max(0, ...byPart.map((of) => of.length))
  return Array.from({ length: most }, (_, place) => byPart.flatMap((of) => (of[place] === undefined ? [] : [of[place].id]))).flat()
}

export interface OrderCost {
  readonly powerOns: number
  /** From one start to the next; what must be put in for the first is counted too where it is not in already. */
  readonly sampleChanges: number
  readonly tuneChanges: number
  readonly handMinutes: number
  readonly machineMinutes: number
}

export type CostOf = (of: Cost['of']) => { readonly hand: number; readonly machine: number }

/** What an order costs, with what sits in the rig now. Runs themselves are not counted. */
export function costOfOrder(order: readonly (Combination & { readonly how: StartHow })[], now: ReadonlySet<string>, cost: CostOf): OrderCost {
  let sampleChanges = 0
  let tuneChanges = 0
  for (const [place, { tuneId, sampleId }] of order.entries()) {
    const before = order[place - 1]
    if (before === undefined ? !now.has(sampleId) : before.sampleId !== sampleId) sampleChanges += 1
    if (before !== undefined && before.tuneId !== tuneId) tuneChanges += 1
  }
  const powerOns = order.filter(({ how }) => how !== 'live').length
  const sum = (kind: 'hand' | 'machine'): number => powerOns * cost('start')[kind] + sampleChanges * cost('sample change')[kind] + tuneChanges * cost('tune change')[kind]
  return { powerOns, sampleChanges, tuneChanges, handMinutes: sum('hand'), machineMinutes: sum('machine') }
}

export function plannedStarts(order: readonly (Combination & { readonly how: StartHow })[], slot: Slot, newId: () => string): readonly SheetStart[] {
  return order.map(({ tuneId, sampleId, how }) => ({ startId: newId(), tuneId, how, slots: [{ slot, sampleId }] }))
}

/** One place up or down. */
export function moved<Item>(order: readonly Item[], from: number, by: -1 | 1): readonly Item[] {
  const to = from + by
  if (to < 0 || to >= order.length) return order
  const next = order.toSpliced(from, 1)
  return next.toSpliced(to, 0, order[from])
}
