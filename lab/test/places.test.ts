// Journals say in what order a rig's starts came; its clock only says so while it is not contradicted.
import { describe, expect, it } from 'vitest'
import { journalBodies, journalFile, journalIds } from './journal-files.ts'
import { newLab, testSources } from './support.ts'

/** Takes in a chain of starts, tunes in turn, each opened at the given moment. */
function labOf(moments: readonly string[]) {
  const sources = testSources()
  const lab = newLab(sources)
  const { newId } = testSources({}, 7)
  let previous: { journal: string; lastHash: string } | undefined
  const startIds = moments.map((at, order) => {
    const ids = journalIds(newId)
    const bodies = journalBodies(ids, { order, tune: order % 2 === 0 ? '65 W' : '95 W', ...(previous === undefined ? {} : { previous }) }).map((body) => ({ ...body, at }))
    const { bytes, lastHash } = journalFile(bodies)
    lab.intakeJournal({ bytes, file: `${ids.journal}.journal`, who: 'Ada' })
    previous = { journal: ids.journal, lastHash }
    return ids.startId
  })
  const tune = (name: string): string => lab.list('tune').find((record) => record.name === name)?.id ?? ''
  const question = lab.ask(
    { ask: { kind: 'gain', about: { a: { tuneId: tune('65 W') }, b: { tuneId: tune('95 W') }, suiteId: lab.list('suite')[0].id, slot: 'processor', smallestGain: { percent: 0.5, fixedAt: '2026-11-01T08:00:00Z' } } } },
    { who: 'Ada' },
  )
  return { starts: lab.snapshot(question).snapshot.starts, startIds }
}

describe('the order of a rig’s starts', () => {
  it('is that of time while the clock runs on', () => {
    const moments = ['2026-11-05T09:00:00Z', '2026-11-05T09:10:00Z', '2026-11-05T09:20:00Z']
    const { starts, startIds } = labOf(moments)
    expect(starts.map(({ id, at }) => [id, at])).toEqual(startIds.map((id, index) => [id, moments[index]]))
  })

  it('is that of the journals, without times, where a firmware reset set the clock back', () => {
    const { starts, startIds } = labOf(['2026-11-05T09:00:00Z', '2026-11-05T09:10:00Z', '2005-01-01T00:01:00Z', '2005-01-01T00:11:00Z'])
    expect(starts.map(({ id, order, at }) => [id, order, at])).toEqual(startIds.map((id, index) => [id, index, undefined]))
  })
})
