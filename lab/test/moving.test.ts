// A workspace taken elsewhere and back: cells, digests, and every form of export imported again.
import { readdirSync, symlinkSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { contentDigest } from '@guardband/model'
import { keepStream } from '../index.ts'
import { digestOfBodies } from '../moving/content-digest.ts'
import { csvLine } from '../moving/csv-lines.ts'
import { cellText, leafOf } from '../moving/flat-record.ts'
import { AWKWARD, copied, exported, opened, taken } from './moving-support.ts'
import { adding, BY, temporaryFolder, testSources } from './support.ts'

describe('the content digest piece by piece', () => {
  it('equals that of all texts at once', () => {
    fc.assert(fc.property(fc.array(fc.string({ unit: 'binary', maxLength: 20 }), { maxLength: 20 }), (bodies) => {
      const wellFormed = bodies.map((body) => body.toWellFormed())
      expect(digestOfBodies(wellFormed)).toBe(contentDigest(wellFormed))
    }))
  })
})

describe('a cell', () => {
  it('gives back any text, and never begins as a formula does', () => {
    fc.assert(fc.property(fc.oneof(fc.string(), fc.constantFrom(...AWKWARD), fc.string().map((text) => `=${text}`), fc.string().map((text) => `'${text}`)), (text) => {
      const cell = cellText(text, 'text')
      expect(cell).not.toMatch(/^$|^[=+\-@\t\r]/)
      expect(leafOf(cell, 'text')).toEqual({ leaf: text })
    }))
  })

  it('gives back any number, and leaves negative ones bare', () => {
    fc.assert(fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (value) => {
      expect(leafOf(cellText(value, 'number'), 'number')).toEqual({ leaf: value === 0 ? 0 : value })
    }))
    expect(cellText(-12.5, 'number')).toBe('-12.5')
    for (const wrong of ['0x10', '1,5', 'Infinity', 'NaN', ' 1', '=1']) expect(leafOf(wrong, 'number')).toHaveProperty('wrong')
  })

  it('is quoted by RFC 4180', () => {
    expect(csvLine(['a', 'b,c', 'd"e', 'f\r\ng', '', ';'])).toBe('a,"b,c","d""e","f\r\ng",,";"\r\n')
  })
})

describe('an export that is imported again', () => {
  it.each(['json', 'csv', 'archive'] as const)('as %s gives the same content digest', async (form) => {
    const { lab, digest } = copied()
    const made = await taken(exported(form))
    const other = opened(made.folder)
    expect([made.digest, other.moving.digest()]).toEqual([digest, digest])
    expect(other.list('rig').map(({ note }) => note)).toEqual(lab.list('rig').map(({ note }) => note))
    const gone = other.check().filter(({ sentence }) => !/gone/.test(sentence))
    expect(gone).toEqual([])
    expect(other.changes({ count: 9 }).length).toBe(form === 'archive' ? lab.changes({ count: 9 }).length : 1)
  })

  it('as an archive has every file and a clean check; as records it names what did not come along', async () => {
    const archive = await taken(exported('archive'))
    expect(opened(archive.folder).check()).toEqual([])
    expect(archive.files).toEqual([])
    const json = await taken(exported('json'))
    // Picture, small picture, report, its snapshots, journal.
    expect(json.files.length).toBe(5)
    expect(json.files.map(({ name }) => name)).toContain('paste.jpg')
  })

  it('stands in the change log as one change with who and from what', async () => {
    const made = opened((await taken(exported('json'))).folder)
    expect(made.changes({ count: 2 })).toMatchObject([{ seq: 1, who: 'Ada Hollin', what: expect.stringMatching(/^Imported \d+ records from it, exported 2026-11-05$/) }])
  })

  it('holds what was there at one moment, though the workspace is written to meanwhile', async () => {
    const { lab, digest } = copied()
    const stream = await lab.moving.export('json')
    lab.apply({ ...BY, items: adding({ kind: 'rig', id: testSources({}, 8).newId(), name: 'later' }) })
    const file = path.join(temporaryFolder(), 'then.json')
    await keepStream(stream, file)
    expect((await taken(file)).digest).toBe(digest)
  })

  it('into a folder that holds something is refused, and that stays as it was', async () => {
    const { lab } = copied()
    const file = exported('json')
    const before = lab.moving.digest()
    await expect(taken(file, lab.folder)).rejects.toThrow('there is a workspace in this folder already')
    expect(lab.moving.digest()).toBe(before)
    const folder = temporaryFolder()
    writeFileSync(path.join(folder, 'mine.txt'), 'mine')
    await expect(taken(file, folder)).rejects.toThrow('this folder holds other files')
    expect(readdirSync(folder)).toEqual(['mine.txt'])
    symlinkSync(temporaryFolder(), path.join(folder, 'link'))
    await expect(taken(file, path.join(folder, 'link'))).rejects.toThrow('a link stands in the place')
    await expect(taken(file, path.join(folder, 'mine.txt'))).rejects.toThrow('a file stands in the place')
    await expect(taken(file, path.join(folder, 'mine.txt', 'under'))).rejects.toThrow('a file stands where a folder would have to be')
  })
})

describe('the workspace folder', () => {
  it('is left as it was by every export', async () => {
    const { lab } = copied()
    const before = readdirSync(lab.folder).toSorted()
    for (const form of ['json', 'csv', 'archive'] as const) for await (const piece of await lab.moving.export(form)) expect(piece).toBeDefined()
    const stopped = await lab.moving.export('archive')
    stopped.destroy()
    await expect.poll(() => readdirSync(lab.folder).toSorted()).toEqual(before)
    expect(lab.check()).toEqual([])
  })
})
