// A file of runs that comes again, whole, longer, saved otherwise or changed: what is here already counts once.
import { describe, expect, it } from 'vitest'
import type { IntakeReply } from '@guardband/model'
import type { Lab } from '../index.ts'
import { newLab } from './support.ts'

const HEADER = 'part,sample,tune,start,workload,value'
const start = (label: string, tune: string, ...values: readonly number[]): string => values.map((value) => `Quillon 14,1,${tune},${label},code build,${value}\n`).join('')
const FIRST = `${HEADER}\n${start('1', '65 W', 1004, 1005)}${start('2', '95 W', 1017, 1018)}${start('3', '65 W', 995, 996)}`

function send(lab: Lab, text: string, file = 'my.csv', only: 'preview' | 'take' = 'take'): IntakeReply {
  return lab.intakeRuns({ text, file, who: 'Ada Hollin', only })
}

function labWithFirst(): Lab {
  const lab = newLab()
  expect(send(lab, FIRST)).toMatchObject({ taken: true, change: 2, startsHere: 0, remarks: [], summary: { runs: 6, starts: 3 } })
  return lab
}

const growing = (count: number): string => `${HEADER},ambient\n${['Quillon 14,1,65 W,1,code build,1004,20', 'Quillon 14,1,65 W,1,code build,1005,22', 'Quillon 14,1,65 W,1,code build,1006,30'].slice(0, count).join('\n')}\n`
const timed = (rig: string, sample: string, at: string): string => `part,sample,rig,tune,start,time,workload,value\nQuillon 14,${sample},${rig},65 W,1,${at},code build,1004\n`

describe('a file of runs that comes again', () => {
  it('longer: only the new start comes in, and both preview and take say so', () => {
    const lab = labWithFirst()
    const longer = `${FIRST}${start('4', '95 W', 1022, 1023)}`
    const said = { startsHere: 3, remarks: ['3 of 4 starts are here already (my.csv, change 2). Only the rest comes in.'], summary: { runs: 2, starts: 1 } }
    expect(send(lab, longer, 'my.csv', 'preview')).toMatchObject({ ...said, taken: false, seenBefore: false })
    expect(send(lab, longer)).toMatchObject({ ...said, taken: true, change: 3 })
    expect(lab.info().counts).toMatchObject({ runs: 8, starts: 4 })
    expect(lab.list('start').map(({ order }) => order)).toEqual([0, 1, 2, 3])
    expect(send(lab, `${longer}${start('5', '65 W', 1001)}`).remarks).toEqual(['4 of 5 starts are here already (my.csv, change 2; my.csv, change 3). Only the rest comes in.'])
    expect(lab.check()).toEqual([])
  })

  it.each([
    ['with Windows line ends', FIRST.replaceAll('\n', '\r\n')],
    ['with a byte order mark and a blank line', `\uFEFF${FIRST}\n`],
    ['with semicolons and decimal commas', FIRST.replaceAll(',', ';').replaceAll(/(\d)$/gm, '$1,0')],
    ['with its lines sorted otherwise', `${HEADER}\n${FIRST.trimEnd().split('\n').slice(1).toReversed().join('\n')}\n`],
    ['without its first lines', `${HEADER}\n${FIRST.trimEnd().split('\n').slice(2).join('\n')}\n`],
  ])('saved again %s: nothing comes in and no change is made', (_, text) => {
    const lab = labWithFirst()
    expect(send(lab, text, 'again.csv')).toMatchObject({ taken: false, seenBefore: true, change: null, startsHere: 3, remarks: ['3 of 3 starts are here already (my.csv, change 2).'], problemCount: 0 })
    expect(lab.head()).toBe(2)
    expect(lab.info().counts.runs).toBe(6)
  })

  it('with further lines in a start: they join the start that is here, and undo takes only them away', () => {
    const lab = newLab()
    send(lab, growing(2))
    expect(send(lab, growing(3))).toMatchObject({ taken: true, startsHere: 0, remarks: ['A start that is here goes on with new runs: "1" (my.csv, change 2).'], summary: { runs: 1, starts: 1 } })
    // The mean of 20, 22 and 30 degC.
    expect(lab.list('start')).toMatchObject([{ conditions: { ambient: 24 } }])
    expect(lab.list('run').map(({ order, measures, inForceId }) => [order, measures[0].value, inForceId])).toEqual([1004, 1005, 1006].map((value, order) => [order, value, lab.list('in force')[0].id]))
    expect(lab.check()).toEqual([])
    lab.undo(3, { who: 'Ada Hollin', why: 'too early' })
    expect(lab.list('start')).toMatchObject([{ conditions: { ambient: 21 } }])
    expect(lab.info().counts.runs).toBe(2)
    expect(send(lab, growing(3)).summary).toMatchObject({ runs: 1, starts: 1 })
  })

  it('with half of a start corrected and no time to know it by: a new start, as the guide says', () => {
    const lab = labWithFirst()
    expect(send(lab, FIRST.replace(',1005', ',1006'))).toMatchObject({ taken: true, startsHere: 2, summary: { starts: 1, runs: 2 } })
  })

  it.each([
    ['a figure among three', start('1', '65 W', 10, 11, 12), start('1', '65 W', 10, 11, 13)],
    ['a line put above the others', start('1', '65 W', 10, 11), start('1', '65 W', 9, 10, 11)],
  ])('that changes %s of a start is refused with the start, where it came from, and the mend', (_, before, after) => {
    const lab = newLab()
    send(lab, `${HEADER}\n${start('0', '65 W', 1, 2)}${before}`)
    const reply = send(lab, `${HEADER}\n${start('0', '65 W', 1, 2)}${after}${start('9', '65 W', 5)}`)
    expect(reply).toMatchObject({ taken: false, problemCount: 1, remarks: [], problems: [{ line: 4, column: 'start' }] })
    expect(reply.problems[0].sentence).toMatch(/^my\.csv, line 4, column start: start "1" is here already \(my\.csv, change 2\), but (with other lines|and the new lines do not all stand below those that are here)\. Make the two agree, or leave it out, or take change 2 back/)
    expect(lab.head()).toBe(2)
  })

  it.each([
    ['how', 'warm', 'as a cold start'], ['firmware', 'F2', 'with another firmware, or without one'], ['system', 'image 8', 'with another system, or without one'],
    ['time', '2026-11-05T09:00:00Z', 'with another time, or without one'], ['ambient', '25', 'with another ambient, or without one'], ['known', 'read back', 'with another "known"'], ['phase', 'heavy', 'with other times, phases, places or seconds'],
  ])('whose lines are here but whose column %s says otherwise is refused', (column, cell, what) => {
    const lab = labWithFirst()
    const text = FIRST.trimEnd().split('\n').map((line, index) => `${line},${index === 0 ? column : index <= 2 ? cell : ''}`).join('\n')
    expect(send(lab, text).problems.map(({ sentence }) => sentence)).toEqual([expect.stringContaining(`start "1" is here already (my.csv, change 2), but ${what}.`)])
  })

  it('tells power-ons apart by their times, their samples and their rigs, whatever their figures', () => {
    const lab = newLab()
    for (const [index, text] of [timed('north', '1', '2026-11-05T09:00Z'), timed('north', '1', '2026-11-06T09:00Z'), timed('north', '2', '2026-11-05T09:00Z'), timed('south', '1', '2026-11-05T09:00Z')].entries()) {
      expect(send(lab, text, `${index}.csv`)).toMatchObject({ taken: true, startsHere: 0, summary: { runs: 1 } })
    }
    expect(send(lab, timed('north', '1', '2026-11-06T10:00+01:00'), 'again.csv')).toMatchObject({ taken: false, remarks: ['1 of 1 start is here already (1.csv, change 3).'] })
    // At the same moment it is the same power-on, whatever it measured.
    expect(send(lab, timed('north', '1', '2026-11-06T09:00Z').replace('1004', '1005'), 'other.csv').problems[0].sentence).toContain('but with other lines')
  })

  it('counts a start that never ran once, and takes what was taken back in again', () => {
    const lab = newLab()
    const failed = `${HEADER},outcome\nQuillon 14,1,65 W,1,,,no start\n`
    const { change } = send(lab, failed)
    expect(send(lab, `${failed}Quillon 14,1,65 W,2,code build,5,\n`)).toMatchObject({ startsHere: 1, summary: { starts: 1 } })
    lab.undo(3, { who: 'Ada Hollin', why: '' })
    lab.undo(change ?? 0, { who: 'Ada Hollin', why: '' })
    expect(send(lab, `${failed}\n`)).toMatchObject({ taken: true, startsHere: 0 })
  })

  it('may fill in what was unknown of a sample, without a run counted twice', () => {
    const lab = labWithFirst()
    const text = FIRST.trimEnd().split('\n').map((line, index) => `${line},${index === 0 ? 'picked' : 'at random'}`).join('\n')
    expect(send(lab, text)).toMatchObject({ taken: true, startsHere: 3, summary: { runs: 0, starts: 0 } })
    expect(lab.list('sample')).toMatchObject([{ picked: 'at random' }])
    expect(lab.changes({ count: 1 })[0].what).toBe('Filled in what my.csv says of starts that are here')
    expect(lab.info().counts.runs).toBe(6)
  })

  it('is recognised where a run was set aside meanwhile', () => {
    const lab = labWithFirst()
    lab.setAside(lab.list('run')[0].id, { who: 'Ada Hollin', reason: 'door open' })
    expect(send(lab, `${FIRST}\n`)).toMatchObject({ taken: false, startsHere: 3 })
  })
})
