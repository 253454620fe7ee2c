// Two chained journals for the workspaces of earlier formats.
import { journalBodies, journalFile, journalIds, testPlan, type JournalFile } from './support.ts'

export interface OldJournal extends JournalFile {
  readonly id: string
  readonly startId: string
  readonly previous: string | null
  readonly resolves: string | null
}

export function encodeLines(newId: () => string, rig: string): readonly [OldJournal, OldJournal] {
  const plan = testPlan({ rig })
  const one = journalIds(newId)
  const two = journalIds(newId)
  // The first stops after its second begin: that run is in flight.
  const first = journalFile(journalBodies(one, { plan }).slice(0, 7))
  const bodies = journalBodies(two, { plan, order: 1, previous: { journal: one.journal, lastHash: first.lastHash } })
  const second = journalFile([
    bodies[0],
    { type: 'resolved', at: '2026-11-05T09:10:00.000Z', journal: one.journal, step: 'b1.t1.w1.r2', runId: one.runs[1], outcome: 'machine reset', evidence: 'another boot id' },
    ...bodies.slice(1),
  ])
  return [
    { ...first, id: one.journal, startId: one.startId, previous: null, resolves: null },
    { ...second, id: two.journal, startId: two.startId, previous: one.journal, resolves: one.runs[1] },
  ]
}
