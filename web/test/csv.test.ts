// Saved tables: safe in a spreadsheet, whole for a program.
import { describe, expect, test } from 'vitest'
import { answerRows } from '../pages/answer-csv.ts'
import { csvText } from '../pieces/csv.ts'
import { ANSWER } from './fixtures/answer.ts'

describe('csvText', () => {
  test.each(['=1+1', '+1', '-1', '@SUM(A1)', '\t=1', '\r=1', ' =1', '\u2212 1', '\uff1d1'])('a text that begins like a formula gets an apostrophe before it: %j', (text) => {
    expect(csvText([[text]]).replace(/^"/, '').startsWith("'")).toBe(true)
  })

  test('numbers stay numbers, also below zero, and nothing stands for null', () => {
    expect(csvText([[-2.5, 3, null, 1e-7]])).toBe('-2.5,3,,1e-7\r\n')
  })

  test('commas, quotes and line breaks are quoted as RFC 4180 says', () => {
    expect(csvText([['a,b', 'say "x"', 'one\ntwo', 'plain']])).toBe('"a,b","say ""x""","one\ntwo",plain\r\n')
  })
})

describe('answerRows', () => {
  test('every estimate of the scope has a line, with its figures unrounded, and lines say that the data are simulated', () => {
    const [header, ...rows] = answerRows(ANSWER, 'samples like these')
    expect(rows).toHaveLength(ANSWER.estimates.filter((estimate) => estimate.scope === 'samples like these').length)
    expect(rows.every((row) => row.length === header?.length)).toBe(true)
    expect(rows.every((row) => row.at(-1) === 'simulated')).toBe(true)
    expect(rows[0]?.[3]).toBe(2.9)
  })
})
