// Imports in a thread of their own: followed, cancelled at any point without a trace, and refused in the same words; and that nobody waits for them.
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import path from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import type { LabRecord } from '@guardband/model'
import { createLab, importInThread, keepStream, type ExportForm, type MovingProgress } from '../index.ts'
import { opened } from './moving-support.ts'
import { adding, bench, BY, temporaryFolder, testSources, track } from './support.ts'

const STARTS = 30
const RUNS_A_START = 100

interface Many {
  readonly file: string
  readonly digest: string
  readonly records: number
}

/** Thousands of runs, so that there is something to follow; made once a form. */
const folder = mkdtempSync(path.join(tmpdir(), 'guardband-thread-'))
const made = new Map<ExportForm, Promise<Many>>()
afterAll(() => rmSync(folder, { recursive: true, force: true }))

function many(form: ExportForm): Promise<Many> {
  const known = made.get(form) ?? makeMany(form)
  made.set(form, known)
  return known
}

async function makeMany(form: ExportForm): Promise<Many> {
  const sources = testSources()
  const world = bench(sources)
  const lab = track(createLab(path.join(temporaryFolder(), 'lab'), { name: 'Hollin & Pike', currency: '', simulated: true }, sources))
  const starts: LabRecord[] = Array.from({ length: STARTS }, () => world.start(world.seats[0], world.t65, Array.from({ length: RUNS_A_START }, (_, at) => 40 + at / 100))).flat()
  lab.apply({ ...BY, items: adding(...world.records, ...starts) })
  const file = path.join(folder, form)
  await keepStream(await lab.moving.export(form), file)
  return { file, digest: lab.moving.digest(), records: 1 + world.records.length + starts.length }
}

const DOINGS = ['reading', 'comparing', 'writing', 'unpacking'] as const

describe.each([['json', 'writing'], ['csv', 'writing'], ['archive', 'unpacking']] as const)('an import of %s in a thread', (form, last) => {
  it('is followed to its last record or byte, and holds what was exported', async () => {
    const { file, digest, records } = await many(form)
    const told: MovingProgress[] = []
    const whole = await importInThread({ file, into: path.join(temporaryFolder(), 'lab'), who: 'Ada' }, { onProgress: (progress) => told.push(progress) })
    expect([whole.digest, opened(whole.folder).moving.digest()]).toEqual([digest, digest])
    const of = told.filter(({ doing, all }) => doing === last && all > 0)
    expect(of.length).toBeGreaterThan(1)
    expect(of.map(({ done }) => done)).toEqual(of.map(({ done }) => done).toSorted((a, b) => a - b))
    expect(of.every(({ done, all }) => done <= all)).toBe(true)
    if (form !== 'archive') expect(told.findLast(({ doing }) => doing === 'reading')).toEqual({ doing: 'reading', done: records, all: records })
  })

  it.each(DOINGS)('cancelled while %s leaves nothing behind', async (when) => {
    const { file } = await many(form)
    const parent = temporaryFolder()
    const stop = new AbortController()
    let met = false
    const importing = importInThread({ file, into: path.join(parent, 'lab'), who: 'Ada' }, {
      signal: stop.signal,
      onProgress: ({ doing }) => {
        if (doing !== when || met) return
        met = true
        stop.abort()
      },
    })
    // What is over before the thread hears of it is whole; otherwise nothing is there.
    const outcome = await importing.then(() => 'made', (error: unknown) => (error as { readonly code?: unknown }).code)
    expect(readdirSync(parent)).toEqual(outcome === 'made' ? ['lab'] : [])
    if (outcome !== 'made') expect([met, outcome]).toEqual([true, 'import-cancelled'])
  })
})

describe('an import in a thread', () => {
  it('that was cancelled before it began makes nothing', async () => {
    const { file } = await many('json')
    const parent = temporaryFolder()
    await expect(importInThread({ file, into: path.join(parent, 'lab'), who: 'Ada' }, { signal: AbortSignal.abort() })).rejects.toThrow('the import was cancelled')
    expect(readdirSync(parent)).toEqual([])
  })

  it('is refused in the same words as in the process itself', async () => {
    const file = path.join(temporaryFolder(), 'runs.csv')
    writeFileSync(file, 'part,sample\n')
    await expect(importInThread({ file, shown: 'runs.csv', into: path.join(temporaryFolder(), 'lab'), who: 'Ada' })).rejects.toThrow(expect.objectContaining({ sentence: expect.stringMatching(/^runs\.csv: it is no export of a workspace\. Runs from other programs/) }))
  })
})

describe('an export from a thread', () => {
  it('that nobody reads on closes once its thread is over', async () => {
    const { file } = await many('archive')
    const { folder: own } = await importInThread({ file, into: path.join(temporaryFolder(), 'lab'), who: 'Ada' })
    const lab = opened(own)
    const stream = await lab.moving.export('archive')
    await new Promise<void>((resolve) => {
      stream.once('close', resolve)
      stream.destroy()
    })
    expect(readdirSync(own).filter((name) => name.startsWith('.'))).toEqual([])
  })
})
