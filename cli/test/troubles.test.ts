// One unattended plan through a night of staged troubles on a scripted machine: it comes to its end, each is booked as what it was, and nothing stands under the wrong tune.
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { decodeJournal, type JournalBody, type Outcome } from '@guardband/model'
import { createLab } from '@guardband/lab'
import { realSources } from './real-page.ts'
import { liveThroughTheNight, RUNS_A_TUNE, TROUBLES, type Night } from './troubles/night.ts'

const root = mkdtempSync(join(tmpdir(), 'guardband-troubles-'))
afterAll(() => rmSync(root, { recursive: true, force: true }))

let night: Night
let bodies: readonly JournalBody[]

beforeAll(async () => {
  night = await liveThroughTheNight(join(root, 'machine'))
  const folder = join(night.folder, 'rig', 'journals')
  bodies = readdirSync(folder).toSorted().flatMap((name) => decodeJournal(readFileSync(join(folder, name))).entries.map(({ body }) => body))
}, 300_000)

/** The outcomes of a tune's runs in their order; "not run" for those that were closed without being carried out. */
const EXPECTED: Readonly<Record<keyof typeof TROUBLES, readonly (Outcome | 'not run')[]>> = {
  101: ['scored', 'hung', 'scored'],
  102: ['scored', 'machine reset', 'scored'],
  103: ['scored', 'hung', 'scored'],
  104: ['not run', 'not run', 'not run'],
  105: ['not run', 'not run', 'not run'],
  106: ['scored', 'scored', 'scored'],
  107: ['scored', 'program died', 'scored'],
  108: ['scored', 'errors', 'scored'],
  109: ['scored', 'wrong result', 'scored'],
  110: ['scored', 'scored', 'scored'],
  111: ['scored', 'scored', 'scored'],
  112: ['scored', 'machine reset', 'scored'],
  113: ['scored', 'machine reset', 'scored'],
  114: ['scored', 'machine reset', 'scored'],
  115: ['scored', 'scored', 'scored'],
  116: ['scored', 'program died', 'scored'],
  117: ['scored', 'machine reset', 'scored'],
  118: ['machine reset', 'machine reset', 'not run'],
  119: ['scored', 'machine reset', 'scored'],
  120: ['scored', 'errors', 'scored'],
  121: ['scored', 'scored', 'scored'],
  122: ['scored', 'scored', 'scored'],
  123: ['scored', 'scored', 'scored'],
}

describe('a night of troubles', () => {
  it('comes to its end through all of them', () => {
    expect(night.ends.at(-1)?.outcome).toBe('finished')
    // Each trouble that takes the rig down or stops it takes one session more, or the stage did not work.
    expect(night.lives).toBeGreaterThan(12)
  })

  it.each(Object.entries(TROUBLES))('under %s W, where %s, each run is booked as what it was', (value) => {
    const expected = EXPECTED[Number(value) as keyof typeof TROUBLES]
    const booked = Array.from({ length: RUNS_A_TUNE }, (_, index) => {
      const step = `r${value}-${index + 1}`
      const ends = bodies.flatMap((body) => ((body.type === 'end' || body.type === 'resolved') && body.step === step && body.outcome !== 'stopped by a person' ? [body.outcome] : []))
      const closed = bodies.some((body) => body.type === 'done' && body.step === step && body.message?.startsWith('not run') === true)
      return closed ? ['not run', ...ends] : ends
    })
    expect(booked).toEqual(expected.map((outcome) => [outcome]))
  })

  it('says of the hung machine what its companion saw, and of the places that are gone that the plan goes on', () => {
    const hung = bodies.find((body) => body.type === 'resolved' && body.step === 'r103-2')
    expect(hung?.type === 'resolved' ? hung.evidence : '').toMatch(/the machine stood still until it was restarted.*no heartbeat for \d+ s.*power switch: ended with status 0/s)
    expect(night.said).toContain('hub that is gone')
    expect(night.troubles).toEqual(expect.arrayContaining(['122', '123']))
  })

  it('reports the damage with its place, and uses what stands around it', () => {
    expect(night.said).toMatch(/caution: .*\.journal, line \d+ \(byte \d+, \d+ long\)/)
  })

  it('leaves nothing of a run behind', () => {
    const pid = Number(readFileSync(join(night.folder, 'left-behind'), 'utf8'))
    expect(existsSync(`/proc/${pid}`) && !readFileSync(`/proc/${pid}/stat`, 'utf8').includes(') Z ')).toBe(false)
  })

  it('books no run under a tune that was not in force: the score that the machine gave is its power limit', async () => {
    const lab = createLab(join(root, 'lab'), { name: 'Hollin & Pike', currency: 'EUR', simulated: true }, realSources)
    try {
      const folder = join(night.folder, 'rig', 'journals')
      for (const file of readdirSync(folder).toSorted()) lab.intakeJournal({ bytes: readFileSync(join(folder, file)), file, who: 'north bench' })
      const { rows } = lab.runs({ from: 0, count: 500 })
      const scored = rows.filter(({ outcome }) => outcome === 'scored')
      expect(scored.map(({ tune, measures }) => `${tune} ${measures[0].value}`)).toEqual(scored.map(({ measures }) => `tune ${measures[0].value} ${measures[0].value}`))
      const wanted = Object.values(EXPECTED).flat()
      expect(scored).toHaveLength(wanted.filter((outcome) => outcome === 'scored').length)
      expect(rows.filter(({ outcome }) => outcome !== 'scored' && outcome !== 'stopped by a person')).toHaveLength(wanted.filter((outcome) => outcome !== 'scored' && outcome !== 'not run').length)
      expect(lab.check()).toEqual([])
    } finally {
      await lab.close()
    }
  })
})
