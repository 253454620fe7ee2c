// Archives that were changed, cut, or made to do harm: each refused before anything of it stays.
import { existsSync, readdirSync, readFileSync, truncateSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import { Readable } from 'node:stream'
import { describe, expect, it } from 'vitest'
import { ZipFile } from 'yazl'
import { keepStream } from '../index.ts'
import { openZip } from '../moving/zip-reader.ts'
import { exported, rezipped, taken } from './moving-support.ts'
import { temporaryFolder } from './support.ts'

describe('an archive that was changed, cut or made elsewhere', () => {
  it.each([
    ['cut', (file: string) => truncateSync(file, readFileSync(file).length - 200), /cut short or damaged/],
    ['with a byte turned in the middle', (file: string) => writeFileSync(file, readFileSync(file).map((byte, at, all) => (at === Math.floor(all.length / 4) ? byte ^ 0xff : byte))), /cut short or damaged|SHA-256 differs/],
    ['of nothing but zeros', (file: string) => writeFileSync(file, Buffer.concat([Buffer.from('PK\u0003\u0004'), Buffer.alloc(10_000)])), /cut short or damaged/],
  ])('%s: is refused, and nothing is made', async (_name, damage, sentence) => {
    const file = exported('archive')
    damage(file)
    const into = path.join(temporaryFolder(), 'lab')
    await expect(taken(file, into)).rejects.toThrow(expect.objectContaining({ sentence: expect.stringMatching(sentence) }))
    expect(readdirSync(path.dirname(into))).toEqual([])
  })

  it('with another file in the place of one, one more, one less or one that leads elsewhere is refused', async () => {
    const file = exported('archive')
    const evidence = (await openZip(file, 'it', { entries: 100 })).names.find((name) => name.startsWith('evidence/')) ?? ''
    const bad = async (change: Parameters<typeof rezipped>[1], added: Readonly<Record<string, string>> = {}): Promise<string> => {
      const into = path.join(temporaryFolder(), 'lab')
      const error: unknown = await taken(await rezipped(file, change, added), into).catch((thrown: unknown) => thrown)
      expect(readdirSync(path.dirname(into))).toEqual([])
      return error instanceof Error && 'sentence' in error ? String(error.sentence) : String(error)
    }
    expect(await bad({ [evidence]: (text) => text.replace(/.$/, 'X') })).toMatch(/SHA-256 differs/)
    expect(await bad({ [evidence]: (text) => `${text}more` })).toMatch(/must have \d+ bytes/)
    expect(await bad({ [evidence]: null })).toMatch(/is missing in it/)
    expect(await bad({}, { 'evidence/stray': 'x' })).toBe('it: "evidence/stray" is in it and is no part of a workspace. Copy or export it again.')
    expect(await bad({}, { 'hub.lock': 'x' })).toMatch(/no part of a workspace/)
    expect(await bad({}, { 'reports/LAB.html': 'x', 'reports/lab.html': 'x' })).toMatch(/is in it twice/)
    expect(await bad({ 'manifest.json': (text) => text.replace('"lab.db"', '"evidence/../../lab.db"') })).toMatch(/no part of a workspace/)
    expect(await bad({ 'manifest.json': (text) => text.replace(/"digest": "[0-9a-f]{64}"/, `"digest": "${'0'.repeat(64)}"`) })).toMatch(/must have the content digest 000/)
    expect(await bad({ 'manifest.json': (text) => text.replace('"format": 1', '"format": 9') })).toMatch(/format 9; this program knows formats up to 1/)
  })

  it('with names that lead out of the folder is refused at the first look', async () => {
    const folder = temporaryFolder()
    for (const name of ['../outside', '/etc/passwd', 'evidence/../../x', 'C:/x', 'evidence/.hidden', 'a/b/c']) {
      const zip = new ZipFile()
      // The writer itself refuses such names, so one of the same length is put in and written over.
      zip.addBuffer(Buffer.from('x'), 'q'.repeat(name.length))
      zip.end()
      const pieces: Buffer[] = []
      for await (const piece of zip.outputStream) pieces.push(Buffer.from(piece))
      const bytes = Buffer.from(Buffer.concat(pieces).toString('latin1').replaceAll('q'.repeat(name.length), name), 'latin1')
      const file = path.join(folder, 'slip.zip')
      writeFileSync(file, bytes)
      await expect(taken(file, path.join(folder, 'into'))).rejects.toThrow(expect.objectContaining({ sentence: expect.stringMatching(/no plain name|damaged/) }))
    }
    expect(readdirSync(folder)).toEqual(['slip.zip'])
    expect(existsSync(path.join(path.dirname(folder), 'outside'))).toBe(false)
  })

  it('that would unpack to a hundred times its size is refused before anything is unpacked', async () => {
    const folder = temporaryFolder()
    const zip = new ZipFile()
    const manifest = { guardband: 'workspace', format: 1, exported: '2026-11-05T08:00:00Z', lab: { name: 'x', simulated: true }, digest: '0'.repeat(64), changes: 1, files: [{ path: 'lab.db', bytes: 1_100_000_000, sha256: '0'.repeat(64) }] }
    zip.addReadStreamLazy('lab.db', { compressionLevel: 1 }, (give) => give(null, Readable.from(zeros(1100))))
    zip.addBuffer(Buffer.from(JSON.stringify(manifest)), 'manifest.json')
    zip.end()
    const file = path.join(folder, 'bomb.zip')
    await keepStream(Readable.from(zip.outputStream), file)
    await expect(taken(file, path.join(folder, 'into'))).rejects.toThrow('no workspace packs so well')
    expect(readdirSync(folder)).toEqual(['bomb.zip'])
  })

  it('whose entry unpacks to more than it declares is cut off there', async () => {
    const file = exported('archive')
    // The central directory's own size of the first entry, made smaller than the truth.
    const bytes = readFileSync(file)
    const central = bytes.indexOf(Buffer.from('PK\u0001\u0002', 'latin1'))
    bytes.writeUInt32LE(100, central + 24)
    writeFileSync(file, bytes)
    await expect(taken(file)).rejects.toThrow(/must have [\d\u202f]+ bytes; the archive says 100/)
  })
})

function* zeros(megabytes: number): Generator<Buffer> {
  const piece = Buffer.alloc(1_000_000)
  for (let at = 0; at < megabytes; at++) yield piece
}
