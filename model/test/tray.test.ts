// A tray: what a scanner or a paste gives becomes rows, and what is wrong or odd is said with its line. Expected values are written from the rules by hand.
import { describe, expect, test } from 'vitest'
import { nextLabel, readTray, withoutLines, type KnownSample } from '../tray.ts'

const KNOWN: readonly KnownSample[] = [
  { label: 'no. 5', serial: 'QW26A0005', name: 'Quillon 14, no. 5', samePart: true },
  { label: 'no. 6', serial: 'QW26A0006', name: 'Quillon 14, no. 6', samePart: true },
  { label: 'no. 7', serial: 'MM110', name: 'Marram 5600, no. 7', samePart: false },
]
const read = (text: string, known = KNOWN) => readTray({ text, known })

describe('labels', () => {
  test('run on from the last numbered one of the part, and keep its zeros', () => {
    expect(nextLabel([])).toBe('no. 1')
    expect(nextLabel(['no. 6'])).toBe('no. 7')
    expect(nextLabel(['Q14-08', 'Q14-09', 'the old one'])).toBe('Q14-10')
    expect(nextLabel(['Q14-12', 'Q14-03'])).toBe('Q14-13')
    expect(nextLabel(['QW2600000000017'])).toBe('no. 1')
  })

  test('of a tray run on one by one; those of other parts do not count', () => {
    expect(read('QW26A0007\nQW26A0008').rows.map((row) => row.label)).toEqual(['no. 7', 'no. 8'])
  })

  test('begin where a person says', () => {
    expect(readTray({ text: 'A1\nA2', known: KNOWN, first: 'Q14-09' }).rows.map((row) => row.label)).toEqual(['Q14-09', 'Q14-10'])
  })

  test('that a later line brings are passed over', () => {
    const { rows } = readTray({ text: ';A1\nno. 7;A2', known: KNOWN, columns: ['label', 'serial'] })
    expect(rows.map((row) => row.label)).toEqual(['no. 8', 'no. 7'])
  })

  test('that are taken are named with their line', () => {
    expect(read('label;serial\nno. 6;X1').rows[0]).toMatchObject({ line: 2, problems: ['label no. 6 is taken by another sample of this part.'] })
    expect(read('label;serial\nno. 7;X1').rows[0]?.problems).toEqual([])
    expect(read('label;serial\nA;X1\na;X2').rows[1]?.problems).toEqual(['label a stands in line 2 already.'])
  })
})

describe('columns', () => {
  test('one column is serials, whatever ends its lines', () => {
    for (const text of ['A1\nB2\n', 'A1\r\nB2', 'A1\rB2\r', '\n A1 \n\n\tB2\t\n']) {
      const tray = read(text)
      expect(tray.columns).toEqual(['serial'])
      expect(tray.rows.map((row) => row.serial)).toEqual(['A1', 'B2'])
    }
  })

  test('are read by their heads, in any order', () => {
    const tray = read('Week code,Maker,S/N,Sample\n2631,x,A1,left\n2632,y,B2,right')
    expect(tray.headed).toBe(true)
    expect(tray.rows.map(({ label, serial, batch }) => ({ label, serial, batch }))).toEqual([
      { label: 'left', serial: 'A1', batch: '2631' },
      { label: 'right', serial: 'B2', batch: '2632' },
    ])
  })

  test('without heads are label, serial, batch; of two, a short first one is the label', () => {
    expect(read('7\tQW26A0007\t2631\n8\tQW26A0008\t2631').columns).toEqual(['label', 'serial', 'batch'])
    expect(read('7\tQW26A0007').columns).toEqual(['label', 'serial'])
    expect(read('QW26A0007\t2631').columns).toEqual(['serial', 'batch'])
  })

  test('a line with more columns than the others, and one without a serial, are named', () => {
    const { rows } = read('label;serial\na;X1;y\nb;')
    expect(rows.map(({ line, problems }) => ({ line, problems }))).toEqual([
      { line: 2, problems: ['3 columns stand here, where 2 are read.'] },
      { line: 3, problems: ['no serial stands here.'] },
    ])
  })
})

describe('serials', () => {
  test('that stand in the tray or the lab already are named, in either case of letters', () => {
    const tray = read('X1\nx1\nmm110')
    expect(tray.rows.map((row) => row.problems)).toEqual([[], ['serial x1 stands in line 1 already.'], ['serial mm110 is in the lab already: Marram 5600, no. 7.']])
    expect(tray.repeats).toEqual([2])
    expect(withoutLines('X1\nx1\nmm110', tray.repeats)).toBe('X1\nmm110')
  })

  test('of another length than most are questioned', () => {
    expect(read('AB001\nAB002\nAB03\nAB004').rows.map((row) => row.questions)).toEqual([[], [], ['4 characters, where 3 of 4 have 5.'], []])
  })

  test('with a letter for a digit, or another letter than the rest, are questioned', () => {
    expect(read('AB001\nAB002\nABO03\nAB004').rows[2]?.questions).toEqual(['character 3 is "O", where 3 of 4 have a digit.'])
    expect(read('AB001\nAB002\nAV003\nAB004').rows[2]?.questions).toEqual(['character 2 is "V", where 3 of 4 have "B".'])
  })

  test('that only count up, or are fewer than four, are not', () => {
    const counting = Array.from({ length: 12 }, (_unused, index) => `AB${String(index + 95).padStart(4, '0')}`)
    expect(read(counting.join('\n')).rows.flatMap((row) => row.questions)).toEqual([])
    expect(read('A\nBB\nCCC').rows.flatMap((row) => row.questions)).toEqual([])
  })

  test('lose the control characters that a scanner sends around them, and no others', () => {
    expect(read('\u001dAB-01\u0004\nAB 02').rows).toMatchObject([{ serial: 'AB-01', questions: [] }, { serial: 'AB 02', questions: ['there is a blank inside the serial.'] }])
  })

  test('longer than the lab keeps are refused', () => {
    expect(read('A'.repeat(201)).rows[0]?.problems).toEqual(['a serial must have at most 200 characters; got 201.'])
  })
})

test('an empty text is an empty tray', () => {
  expect(read(' \n\n').rows).toEqual([])
})

test('two thousand lines against five hundred samples are read without a rule being lost', () => {
  const text = Array.from({ length: 2000 }, (_unused, index) => `QW${String(index + 10_000)}`).join('\n')
  const { rows } = read(text, Array.from({ length: 500 }, (_unused, index) => ({ label: `no. ${index + 1}`, name: '', samePart: true })))
  expect(rows.length).toBe(2000)
  expect(rows.at(-1)?.label).toBe('no. 2500')
  expect(rows.flatMap((row) => [...row.problems, ...row.questions])).toEqual([])
})
