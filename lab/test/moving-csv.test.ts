// CSV exports that were changed, cut or made elsewhere: each refused with file, line and column.
import { readdirSync } from 'node:fs'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { openZip } from '../moving/zip-reader.ts'
import { exported, rezipped, shared, taken } from './moving-support.ts'
import { temporaryFolder } from './support.ts'

describe('a CSV export that was changed, cut or made elsewhere', () => {
  const run = 'records/run.csv'
  const dose = 'records/dose.csv'
  const cases: readonly (readonly [name: string, change: Readonly<Record<string, ((text: string) => string) | null>>, sentence: RegExp])[] = [
    ['a figure', { [dose]: (text) => text.replace('1.35', '1.34') }, /^it, records\/dose\.csv: its rows are not those that were exported/],
    ['a decimal comma', { [dose]: (text) => text.replace('1.35', '"1,35"') }, /^it, records\/dose\.csv, line 2, column "volts": it must be a number with a decimal point; got "1,35"/],
    ['a row taken out', { [run]: (text) => text.replace(/\r\n[^\r]*\r\n$/, '\r\n') }, /^it, records\/run\.csv: it must have \d+ rows below its header; it has \d+/],
    ['a column renamed', { [run]: (text) => text.replace('outcome', 'ending') }, /^it, records\/run\.csv, line 1: its columns are not those/],
    ['a cell too many', { [run]: (text) => text.replace(/\r\n$/, ',x\r\n') }, /^it, records\/run\.csv, line \d+: it is no CSV from here on/],
    ['a quote left open', { [run]: (text) => text.replace('[', '"[') }, /^it, records\/run\.csv, line \d+: it is no CSV/],
    ['an outcome nobody knows', { [run]: (text) => text.replace('scored', 'exploded') }, /^it, records\/run\.csv, line 2, column "outcome": /],
    ['a file missing', { [run]: null }, /^it: "records\/run\.csv" is missing in it/],
    ['the manifest missing', { 'manifest.json': null }, /it is no export of a workspace/],
    ['a manifest that is no JSON', { 'manifest.json': () => '{' }, /^it, manifest\.json: it is no JSON/],
    ['a column that reaches for the prototype', { 'manifest.json': (text) => text.replace('"name": "volts"', '"name": "__proto__.volts"') }, /^it, manifest\.json, "kinds\.\d+\.columns\.\d+\.name"/],
    ['a file path out of the folder', { 'manifest.json': (text) => text.replace('records/run.csv', '../run.csv') }, /^it, manifest\.json, "kinds\.\d+\.file"/],
  ]
  it.each(cases)('%s: is refused with its place, and nothing is made', async (_name, change, sentence) => {
    const file = await rezipped(exported('csv'), change)
    const into = path.join(temporaryFolder(), 'lab')
    await expect(taken(file, into)).rejects.toThrow(expect.objectContaining({ sentence: expect.stringMatching(sentence) }))
    expect(readdirSync(path.dirname(into))).toEqual([])
  })

  it('with line feeds only, or without its byte order mark, is taken in: its content is the same', async () => {
    const { digest } = shared
    const file = await rezipped(exported('csv'), { [dose]: (text) => text.replaceAll('\r\n', '\n').replace('\ufeff', '') })
    expect((await taken(file)).digest).toBe(digest)
  })

  it('holds no cell that a spreadsheet would run', async () => {
    const zip = await openZip(exported('csv'), 'it', { entries: 100 })
    let cells = 0
    for (const name of zip.names.filter((each) => each.endsWith('.csv'))) {
      const text = (await zip.text(name, 1e7)).slice(1)
      for (const cell of text.split(/,|\r\n/)) {
        cells += 1
        expect(cell.replace(/^"/, '')).not.toMatch(/^(?:[=+@]|-(?![\d.]))/)
      }
    }
    zip.close()
    expect(cells).toBeGreaterThan(300)
  })
})
