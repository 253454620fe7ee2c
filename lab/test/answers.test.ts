import { writeFileSync } from 'node:fs'
import path from 'node:path'
import { pathToFileURL } from 'node:url'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { SpokenError, type LabRecord } from '@guardband/model'
import type { AnswerProgress, Lab } from '../index.ts'
import { adding, bench, BY, newLab, reopen, temporaryFolder, testSources } from './support.ts'

const answerWorker = new URL('children/answer-worker.ts', import.meta.url)

function filled(sources = testSources({ answerWorker })) {
  const lab = newLab(sources)
  const world = bench(sources)
  const add = (...records: readonly LabRecord[]): number => lab.apply({ ...BY, items: adding(...records) })
  add(...world.records, ...world.start(world.seats[0], world.t65, [40, 41]), ...world.start(world.seats[2], world.t65, [38]))
  const ask = (title: string): string => lab.ask({ title, ask: { kind: 'gain', about: world.about() } }, BY)
  return { lab, ...world, add, ask }
}

async function sentenceOf(work: Promise<unknown>): Promise<string> {
  try {
    await work
  } catch (error) {
    if (error instanceof SpokenError) return error.sentence
    throw error
  }
  return 'nothing was thrown'
}

async function until(lab: Lab, questionId: string, state: string) {
  for (;;) {
    const reply = lab.answerNow(questionId)
    if (reply.state === state) return reply
    if (reply.state !== 'computing') throw new Error(`came to ${JSON.stringify(reply)}`)
    await new Promise((resolve) => setTimeout(resolve, 5))
  }
}

describe('answers', () => {
  it('are computed in a worker, told of as they begin and end, and kept by digest over a reopening', async () => {
    const { lab, ask } = filled()
    const told: AnswerProgress[] = []
    lab.onAnswer((progress) => told.push(progress))
    const id = ask('plain')
    expect(lab.questions()).toMatchObject([{ title: 'plain', state: 'none', headline: null }])
    expect(lab.answerNow(id)).toMatchObject({ state: 'computing', progress: 0 })
    const ready = await until(lab, id, 'ready')
    expect(ready).toMatchObject({ state: 'ready', answer: { snapshotDigest: lab.snapshot(id).digest, basis: { runs: 3 } } })
    expect(told.map(({ state, progress }) => [state, progress])).toEqual([['computing', 0], ['ready', 1]])
    expect(told[1].seconds).toBeGreaterThan(0)
    expect(await lab.answer(id)).toEqual(ready.state === 'ready' && ready.answer)
    expect(told.length).toBe(2)
    await lab.close()
    const again = reopen(lab.folder, testSources({ answerWorker: new URL('file:///nowhere.ts') }, 2))
    expect(again.answerNow(id)).toEqual(ready)
    expect(again.questions()).toMatchObject([{ state: 'ready', headline: [{ text: '3 runs' }], verdict: { tone: 'open' }, settle: null }])
  })

  it('kept by an earlier revision of the method are computed anew, and shown as stale until then', async () => {
    const { lab, ask } = filled()
    const id = ask('plain')
    const answer = await lab.answer(id)
    await lab.close()
    const older = { ...answer, revision: answer.revision - 1, views: answer.views.map((view) => ({ ...view, headline: [{ text: 'as it was said then' }] })) }
    const db = new Database(path.join(lab.folder, 'lab.db'))
    expect(db.prepare('UPDATE answer_cache SET answer = ? WHERE digest = ?').run(JSON.stringify(older), answer.snapshotDigest).changes).toBe(1)
    db.close()
    const again = reopen(lab.folder, testSources({ answerWorker }, 2))
    expect(again.questions()).toMatchObject([{ state: 'stale', headline: [{ text: 'as it was said then' }] }])
    expect(again.answerNow(id)).toMatchObject({ state: 'computing' })
    expect(await again.answer(id)).toEqual(answer)
    expect(again.questions()).toMatchObject([{ state: 'ready', headline: [{ text: '3 runs' }] }])
  })

  it('say how far they are while they are computed, to who listens and to who asks', async () => {
    const { lab, ask } = filled()
    const id = ask('in steps')
    const told: (number | undefined)[] = []
    const there = new Promise<void>((resolve) => {
      lab.onAnswer(({ state, progress }) => {
        if (state !== 'computing') return
        told.push(progress)
        if (progress === 0.75) resolve()
      })
    })
    const waiting = sentenceOf(lab.answer(id))
    await there
    expect(told).toEqual([0, 0.25, 0.75])
    expect(lab.answerNow(id)).toMatchObject({ state: 'computing', progress: 0.75 })
    lab.cancel(id)
    expect(await waiting).toContain('was cancelled')
    expect(lab.answerNow(id, { begin: 'again' })).toMatchObject({ state: 'computing', progress: 0 })
  })

  it('by a worker whose program is not there, or ends as it is loaded, fail with a sentence at once, also after it was to be made ready', async () => {
    const broken = path.join(temporaryFolder(), 'broken-worker.mjs')
    writeFileSync(broken, "throw new Error('it is cut short')")
    for (const { program, says } of [
      { program: 'file:///nowhere/worker.ts', says: '/nowhere/worker.ts: the program that computes answers is not there. Install Guardband anew; the records are unharmed.' },
      { program: pathToFileURL(broken).href, says: 'the answer could not be computed (it is cut short). The records are unharmed; run the check, or report this.' },
    ]) {
      const { lab, ask } = filled(testSources({ answerWorker: new URL(program) }))
      const id = ask('plain')
      await lab.warm()
      expect(await sentenceOf(lab.answer(id))).toBe(says)
      expect(lab.answerNow(id)).toEqual({ state: 'failed', sentence: says })
      void lab.warm()
      expect(await sentenceOf(lab.answer(id))).toBe(says)
      await lab.close()
    }
  })

  it('are stale exactly while the data say another digest', async () => {
    const { lab, ask, add, start, seats, t65 } = filled()
    const id = ask('plain')
    await lab.answer(id)
    const seq = add(...start(seats[0], t65, [39]))
    expect(lab.questions()).toMatchObject([{ state: 'stale', headline: [{ text: '3 runs' }] }])
    await lab.answer(id)
    expect(lab.questions()).toMatchObject([{ state: 'ready', headline: [{ text: '4 runs' }] }])
    lab.undo(seq, BY)
    expect(lab.questions()).toMatchObject([{ state: 'ready', headline: [{ text: '3 runs' }] }])
    expect(lab.answerNow(id)).toMatchObject({ state: 'ready', answer: { basis: { runs: 3 } } })
  })

  it('can be cancelled in an endless computation, and begin again only when asked', async () => {
    const { lab, ask } = filled()
    const id = ask('endless')
    const waiting = sentenceOf(lab.answer(id))
    expect(lab.cancel(id)).toBe(true)
    expect(await waiting).toBe('the computation was cancelled. Ask again to begin it anew.')
    expect(lab.answerNow(id)).toEqual({ state: 'cancelled' })
    expect(lab.cancel(id)).toBe(false)
    expect(lab.answerNow(id, { begin: 'again' })).toMatchObject({ state: 'computing' })
    expect(lab.cancel(id)).toBe(true)
    const other = ask('plain')
    expect((await lab.answer(other)).basis.runs).toBe(3)
  })

  it('can be cancelled by a signal, also one that was given before', async () => {
    const { lab, ask } = filled()
    const id = ask('endless')
    const stop = new AbortController()
    const waiting = sentenceOf(lab.answer(id, { signal: stop.signal }))
    stop.abort()
    expect(await waiting).toContain('was cancelled')
    expect(await sentenceOf(lab.answer(id, { signal: stop.signal }))).toContain('was cancelled')
  })

  it('that fail say so with their sentence and keep the class of the error', async () => {
    const { lab, ask } = filled()
    const fails = ask('fails')
    expect(await sentenceOf(lab.answer(fails))).toBe('tile render: this data is too odd. Look at it.')
    expect(lab.answerNow(fails)).toEqual({ state: 'failed', sentence: 'tile render: this data is too odd. Look at it.' })
    expect(await sentenceOf(lab.answer(ask('breaks')))).toBe('the answer could not be computed (undefined is not a function). The records are unharmed; run the check, or report this.')
  })

  it('that are not sound, or belong to another snapshot, never reach the cache', async () => {
    const { lab, ask } = filled()
    const nan = ask('not a number')
    expect(await sentenceOf(lab.answer(nan))).toMatch(/^the computation gave no sound answer \(basis\.runs: /)
    const foreign = ask('another digest')
    expect(await sentenceOf(lab.answer(foreign))).toContain(`got ${'f'.repeat(64)}`)
    expect(lab.questions().map(({ state }) => state)).toEqual(['none', 'none'])
  })

  it('asked for twice are computed once; data that change meanwhile begin another', async () => {
    const { lab, ask, add, start, seats, t65 } = filled()
    const told: string[] = []
    lab.onAnswer(({ state }) => told.push(state))
    const id = ask('slow')
    const [one, two] = await Promise.all([lab.answer(id), lab.answer(id)])
    expect(one).toBe(two)
    expect(told).toEqual(['computing', 'ready'])
    add(...start(seats[0], t65, [39]))
    const old = sentenceOf(lab.answer(id))
    add(...start(seats[0], t65, [39]))
    expect((await lab.answer(id)).basis.runs).toBe(5)
    expect(await old).toContain('was cancelled')
  })

  it('under way end when the workspace is closed', async () => {
    const { lab, ask } = filled()
    const waiting = sentenceOf(lab.answer(ask('endless')))
    await lab.close()
    expect(await waiting).toContain('was cancelled')
  })

  it('find a worker that was made ready before, also one that has nothing to make ready', async () => {
    for (const sources of [testSources(), testSources({ answerWorker })]) {
      const { lab, ask } = filled(sources)
      await lab.warm()
      expect((await lab.answer(ask('plain'))).basis.runs).toBe(3)
      await lab.close()
      await lab.warm()
    }
  })

  it('come from the real computation when nothing else is given', async () => {
    const { lab, ask } = filled(testSources())
    const answer = await lab.answer(ask('real'))
    expect(answer).toMatchObject({ kind: 'gain', simulated: true, basis: { runs: 3, starts: [1, 1] } })
    expect(answer.estimates.length).toBeGreaterThan(0)
  })
})
