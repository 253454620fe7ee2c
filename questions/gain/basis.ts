// The evidence behind an answer, counted and told in one line.
import { counted, type Answer, type GainSnapshot } from '@guardband/model'
import type { Cells } from './cells.ts'
import { SIDES, type Selection } from './selection.ts'

export function basisOf(snapshot: GainSnapshot, cells: Cells, selection: Selection | null): Answer['basis'] {
  const samples = SIDES.map((side) => selection?.samples[side].length ?? new Set(snapshot.starts.filter((start) => start.side === side).map((start) => start.sample)).size)
  const scoredStarts = snapshot.starts.filter((_, index) => {
    for (let workload = 0; workload < cells.workloadCount; workload++) if (cells.count[index * cells.workloadCount + workload] > 0) return true
    return false
  })
  const starts = SIDES.map((side) => scoredStarts.filter((start) => start.side === side).length)
  const failed = cells.failed[0].reduce((sum, count) => sum + count, 0) + cells.failed[1].reduce((sum, count) => sum + count, 0)
  const same = selection?.pairing === 'same'
  const used = selection === null ? snapshot.samples : [...new Set([...selection.samples[0], ...selection.samples[1]])].map((index) => snapshot.samples[index])
  const picked = [...new Set(used.map((sample) => (PICKED[sample.picked])))].sort()
  const parts = [
    `${same ? `${counted(samples[0], 'sample')} on both sides` : `${samples[0]} + ${samples[1]} samples`}${picked.length === 0 ? '' : `, ${picked.length === 1 ? picked[0] : 'picked in different ways'}`}`,
    ...partnerCounts(snapshot),
    `${starts[0]} + ${starts[1]} starts`,
    `${counted(snapshot.runs.id.length, 'run')}${failed > 0 ? `, ${failed} failed` : ''}${cells.setAside.length > 0 ? `, ${cells.setAside.length} set aside` : ''}`,
  ]
  return {
    samples: [samples[0], samples[1]], starts: [starts[0], starts[1]], runs: snapshot.runs.id.length, failed, setAside: cells.setAside.length,
    sentence: parts.join(' · '),
  }
}

const PICKED = { 'at random': 'picked at random', chosen: 'chosen', unknown: 'how they were picked is not known' } as const

/** Boards and memory kits that took part, where they were recorded; rigs when there is more than one. */
function partnerCounts(snapshot: GainSnapshot): readonly string[] {
  const distinct = (slot: string) => new Set(snapshot.starts.map((start) => start.partners[slot]).filter((value) => value !== undefined)).size
  const texts: string[] = []
  const rigs = new Set(snapshot.starts.map((start) => start.rig)).size
  if (rigs > 1) texts.push(counted(rigs, 'rig'))
  if (distinct('board') > 0) texts.push(counted(distinct('board'), 'board'))
  if (distinct('memory') > 0) texts.push(counted(distinct('memory'), 'kit'))
  return texts
}
