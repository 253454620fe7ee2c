import { describe, expect, it } from 'vitest'
import { SpokenError } from '@guardband/model'
import { startName } from '../store/start-name.ts'
import { adding, bench, BY, newLab, testSources } from './support.ts'

const REASON = { who: 'Ada Hollin', reason: 'window was open' }
const ANY_ID = /[0-9a-f]{8}-[0-9a-f]{4}-/

function filled(more: Parameters<ReturnType<typeof bench>['start']>[3] = {}) {
  const sources = testSources()
  const lab = newLab(sources)
  const world = bench(sources)
  const records = world.start(world.seats[2], world.t95, [38, 39], more)
  lab.apply({ ...BY, items: adding(...world.records, ...records) })
  return { lab, world, start: records[0], runs: records.slice(2) }
}

describe('names of starts', () => {
  it('are the label in the file, else how, tune and moment, else how, place and tune', () => {
    const { start } = filled()
    expect(startName({ ...start, source: 'night # 2.csv # B 7' }, '65 W')).toBe('B 7')
    expect(startName({ ...start, at: '2026-11-05T09:20:31.000+01:00', source: start.id }, '65 W')).toBe('cold start, 65 W, 5 Nov 2026 08:20 UTC')
    expect(startName({ ...start, order: 4, how: 'warm' }, '65 W')).toBe('warm start 5, 65 W')
    expect(startName({ ...start, order: 4, how: 'live' }, null)).toBe('live change 5')
  })

  it('stand in lists of runs', () => {
    const { lab } = filled({ at: '2026-11-05T09:20:31.000Z' })
    expect(lab.runs({ from: 0, count: 1 }).rows[0].startLabel).toBe('cold start, 95 W, 5 Nov 2026 09:20 UTC')
  })
})

describe('what people read of a record', () => {
  it('names a run by workload, sample and start in the change log, and shows no id', () => {
    const { lab, runs } = filled({ source: 'night.csv # 7' })
    lab.setAside(runs[1].id, REASON)
    lab.bringBack(runs[1].id, REASON)
    const [back, aside] = lab.changes({ count: 2 })
    expect(aside.what).toBe('Set aside run of tile render, all cores on Quillon 14R 1 (start 7, run 2)')
    expect(back.what).toBe('Brought back run of tile render, all cores on Quillon 14R 1 (start 7, run 2)')
  })

  it('shows no id when something still refers to what is taken out', () => {
    const { lab, start, world } = filled()
    const refused: string[] = []
    for (const before of [start, world.seats[2], world.t95, world.workload]) {
      try {
        lab.apply({ ...BY, items: [{ before, after: null }] })
      } catch (error) {
        if (!(error instanceof SpokenError)) throw error
        refused.push(error.sentence)
      }
    }
    expect(refused).toHaveLength(4)
    expect(refused[0]).toBe(
      "cold start 1, 95 W of Quillon 14R 1: it can't be taken out while what was in force in cold start 1, 95 W of Quillon 14R 1 refers to it. Take that out first, or in the same change.",
    )
    for (const sentence of refused) expect(sentence).not.toMatch(ANY_ID)
  })

  it('names a question without a title by its sides, and a start that counts for both by its name', () => {
    const { lab, world } = filled()
    const id = lab.ask({ ask: { kind: 'gain', about: world.about({ a: { tuneId: world.t95.id }, b: { partId: world.b.id, tuneId: world.t95.id } }) } }, BY)
    expect(lab.questions()[0].title).toBe('Quillon 14R at 95 W against 95 W')
    expect(lab.answerNow(id)).toEqual({ state: 'failed', sentence: expect.stringMatching(/^cold start 1, 95 W of Quillon 14R 1 counts for both sides of this question\./) as string })
  })
})
