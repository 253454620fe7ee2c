// The same snapshot with samples, starts and runs in one fixed order: the order in which records arrive never reaches a figure or a sentence.
import type { GainSnapshot } from '@guardband/model'

/** Samples by label, starts by rig and place in its order, runs by start and place within it; ids decide ties. Indices follow. Workloads stay: their order is the table's. */
export function inOrder(snapshot: GainSnapshot): GainSnapshot {
  const samples = sorted(snapshot.samples, (a, b) => labels.compare(a.label, b.label) || byText(a.id, b.id))
  const starts = sorted(snapshot.starts, (a, b) => byText(a.rig, b.rig) || a.order - b.order || byText(a.id, b.id))
  const { runs } = snapshot
  const rows = runs.id.map((id, row) => ({ id, row, start: starts.placeOf[runs.start[row]], order: runs.order[row] }))
  const order = rows.sort((a, b) => a.start - b.start || a.order - b.order || byText(a.id, b.id)).map(({ row }) => row)
  const column = <Value>(values: readonly Value[]) => order.map((row) => values[row])
  return {
    ...snapshot,
    samples: samples.items,
    starts: starts.items.map((start) => ({ ...start, sample: samples.placeOf[start.sample] })),
    runs: {
      id: column(runs.id), start: order.map((row) => starts.placeOf[runs.start[row]]), workload: column(runs.workload), order: column(runs.order),
      outcome: column(runs.outcome), value: column(runs.value), seconds: column(runs.seconds), setAside: column(runs.setAside),
    },
    failedStarts: snapshot.failedStarts.toSorted((a, b) => byText(a.id, b.id)),
  }
}

/** "no. 2" before "no. 10". A fixed locale, so that every machine sorts alike. */
const labels = new Intl.Collator('en', { numeric: true })

function byText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}

interface Sorted<Item> {
  readonly items: Item[]
  /** placeOf[old] is the new index. */
  readonly placeOf: Int32Array
}

function sorted<Item>(items: readonly Item[], compare: (a: Item, b: Item) => number): Sorted<Item> {
  const order = items.map((_, index) => index).sort((a, b) => compare(items[a], items[b]) || a - b)
  const placeOf = new Int32Array(items.length)
  order.forEach((old, place) => (placeOf[old] = place))
  return { items: order.map((index) => items[index]), placeOf }
}
