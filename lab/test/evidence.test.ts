import { mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import { describe, expect, it } from 'vitest'
import { sha256Hex } from '@guardband/model'
import type { EvidenceIntake } from '../evidence/evidence-book.ts'
import { harmlessName } from '../evidence/file-name.ts'
import { pictureType } from '../evidence/picture-type.ts'
import { adding, bench, BY, newLab, reopen, testSources } from './support.ts'

const JPEG = Uint8Array.from([0xff, 0xd8, 0xff, 0xe0, 1, 2, 3])

function filled() {
  const sources = testSources()
  const lab = newLab(sources)
  const world = bench(sources)
  lab.apply({ ...BY, items: adding(...world.records) })
  const file = (sha256: string): string => path.join(lab.folder, 'evidence', sha256)
  const intake = (bytes: Uint8Array | string, more: Partial<EvidenceIntake> = {}): EvidenceIntake => ({
    request: sources.newId(), who: 'Ada Hollin', name: 'paste.jpg', mediaType: 'image/jpeg', about: [world.a1.id], thumbnailBytes: 0, limit: 1000, pieces: inPieces(Buffer.from(bytes)), ...more,
  })
  return { lab, file, intake, sources, ...world }
}

async function* inPieces(bytes: Uint8Array, size = 3): AsyncGenerator<Uint8Array> {
  for (let from = 0; from < bytes.length; from += size) yield bytes.subarray(from, from + size)
}

async function* broken(): AsyncGenerator<Uint8Array> {
  yield Buffer.from('half')
  throw new Error('the phone went out of reach')
}

describe('evidence', () => {
  it('is on disk under its hash before its record stands in the log, its thumbnail beside it', async () => {
    const { lab, intake, file, a1 } = filled()
    const bytes = Buffer.concat([JPEG, Buffer.from('the whole picture')])
    const { evidence, change } = await lab.evidence.keep(intake(bytes, { thumbnailBytes: JPEG.length, note: 'thin at one edge' }))
    expect(evidence).toMatchObject({ kind: 'evidence', name: 'paste.jpg', bytes: 17, by: 'Ada Hollin', about: [a1.id], note: 'thin at one edge', sha256: sha256Hex('the whole picture'), thumbnail: sha256Hex(JPEG) })
    expect(readFileSync(file(evidence.sha256), 'utf8')).toBe('the whole picture')
    expect(readFileSync(file(sha256Hex(JPEG)))).toEqual(Buffer.from(JPEG))
    expect(lab.changes({ count: 1 })[0]).toMatchObject({ seq: change, what: 'Put "paste.jpg" beside sample "1"' })
    expect(lab.evidence.about(a1.id)).toEqual([evidence])
    expect(lab.check()).toEqual([])
  })

  it('of the same content lies on disk once', async () => {
    const { lab, intake } = filled()
    await lab.evidence.keep(intake('same'))
    await lab.evidence.keep(intake('same', { name: 'again.jpg' }))
    expect(lab.list('evidence').length).toBe(2)
    expect(readdirSync(path.join(lab.folder, 'evidence'))).toEqual([sha256Hex('same')])
  })

  it('sent twice under one request is kept once; another file under it is refused; after an undo it is not made again', async () => {
    const { lab, intake } = filled()
    const first = await lab.evidence.keep(intake('one'))
    const request = lab.list('evidence')[0].id
    const made = await lab.evidence.keep(intake('two', { request }))
    expect(await lab.evidence.keep(intake('two', { request }))).toEqual(made)
    expect(lab.list('evidence').length).toBe(2)
    await expect(lab.evidence.keep(intake('three', { request }))).rejects.toThrow('it is another change')
    lab.undo(made.change, BY)
    await expect(lab.evidence.keep(intake('two', { request }))).rejects.toThrow('taken back since')
    expect(lab.list('evidence')).toEqual([first.evidence])
  })

  it('that ends early, is too large, is empty, or stands beside nothing leaves no file and no record', async () => {
    const { lab, intake, sources } = filled()
    await expect(lab.evidence.keep(intake('', { pieces: broken() }))).rejects.toThrow('out of reach')
    await expect(lab.evidence.keep(intake('x'.repeat(1001)))).rejects.toThrow('a file must be at most')
    await expect(lab.evidence.keep(intake('ab', { thumbnailBytes: 5 }))).rejects.toThrow('ended after 2 of the 5 bytes')
    await expect(lab.evidence.keep(intake('<html>', { thumbnailBytes: 6 }))).rejects.toThrow('the small picture must be a JPEG or a PNG')
    await expect(lab.evidence.keep(intake('x', { about: [] }))).rejects.toThrow('at least one record')
    await expect(lab.evidence.keep(intake('x', { about: [sources.newId()] }))).rejects.toThrow('there is no record')
    await expect(lab.evidence.keep(intake(''))).rejects.toThrow('the file is empty')
    expect(lab.list('evidence')).toEqual([])
    expect(lab.check()).toEqual([])
  })

  it('taken off keeps its file, and undo brings it back', async () => {
    const { lab, intake, a1 } = filled()
    const { evidence } = await lab.evidence.keep(intake('kept'))
    const seq = lab.apply({ ...BY, items: [{ before: evidence, after: null }] })
    expect(lab.evidence.about(a1.id)).toEqual([])
    expect(lab.check()).toEqual([])
    expect(() => lab.evidence.file(evidence.id, 'file')).toThrow('no such file')
    lab.undo(seq, BY)
    expect(lab.evidence.about(a1.id)).toEqual([evidence])
    expect(lab.check()).toEqual([])
  })

  it('says of a full or unwritable folder that nothing was kept', async () => {
    const { lab, intake } = filled()
    // A folder in the place of the file that is to come: the rename fails on any system and for any user.
    mkdirSync(path.join(lab.folder, 'evidence', sha256Hex('blocked'), 'in the way'), { recursive: true })
    await expect(lab.evidence.keep(intake('blocked'))).rejects.toThrow()
    expect(lab.list('evidence')).toEqual([])
    expect(readdirSync(path.join(lab.folder, 'evidence'))).toEqual([sha256Hex('blocked')])
  })

  it('opens with its length and what it may be shown as, by its bytes and not by its name', async () => {
    const { lab, intake } = filled()
    const page = await lab.evidence.keep(intake('<script>alert(1)</script>', { name: 'picture.jpg' }))
    expect(lab.evidence.file(page.evidence.id, 'file')).toMatchObject({ bytes: 25, picture: null })
    const picture = await lab.evidence.keep(intake(JPEG, { name: 'notes.txt', mediaType: 'text/html; charset="' }))
    expect(picture.evidence.mediaType).toBe('application/octet-stream')
    expect(lab.evidence.file(picture.evidence.id, 'file').picture).toBe('image/jpeg')
    expect(pictureType(Buffer.from('<svg xmlns="http://www.w3.org/2000/svg"/>'))).toBeNull()
    expect(pictureType(Buffer.from('RIFFxxxxWAVE'))).toBeNull()
    expect(pictureType(Buffer.from('RIFFxxxxWEBP'))).toBe('image/webp')
  })
})

describe('the name of a file', () => {
  it.each([
    ['paste.jpg', 'paste.jpg'], ['C:\\Users\\Ada\\paste.jpg', 'paste.jpg'], ['../../etc/passwd', 'passwd'], ['', 'file'], ['...', 'file'],
    ['a\u202egpj.exe', 'agpj.exe'], ['<script>x</script>.png', 'script.png'], ['tab\tand\nline.txt', 'tabandline.txt'], ['Größe 14 µm.png', 'Größe 14 µm.png'],
  ])('%j is kept as %j', (name, kept) => expect(harmlessName(name)).toBe(kept))

  it('of 300 letters keeps its ending and whole characters', () => {
    const kept = harmlessName(`${'🧪'.repeat(150)}.jpeg`)
    expect(kept.length).toBeLessThanOrEqual(200)
    expect(kept).toMatch(/^(?:🧪)+\.jpeg$/u)
  })
})

describe('the check', () => {
  it('names evidence that is gone, altered, or that no record ever named', async () => {
    const { lab, intake, file } = filled()
    const gone = await lab.evidence.keep(intake('gone', { name: 'a.jpg' }))
    const altered = await lab.evidence.keep(intake('altered', { name: 'b.jpg' }))
    rmSync(file(gone.evidence.sha256))
    writeFileSync(file(altered.evidence.sha256), 'Altered')
    writeFileSync(file('stray.txt'), 'stray')
    writeFileSync(file('.part-unfinished'), 'half')
    expect(lab.check().map(({ place, sentence }) => `${place}: ${sentence}`)).toEqual([
      `evidence/${gone.evidence.sha256}: The file of evidence "a.jpg" is gone. Put it back from a copy.`,
      `evidence/${altered.evidence.sha256}: The file of evidence "b.jpg" is not the one that was kept. Put it back from a copy.`,
      'evidence/stray.txt: No record ever named this file: its upload was interrupted, or it was put there by hand. Send it again, or move it elsewhere.',
    ])
    expect(() => lab.evidence.file(gone.evidence.id, 'file')).toThrow('no longer in the evidence folder')
    writeFileSync(file(altered.evidence.sha256), 'Altered more')
    expect(() => lab.evidence.file(altered.evidence.id, 'file')).toThrow('must have 7 bytes')
  })

  it('finds an altered file mended once the same content is sent again', async () => {
    const { lab, intake, file } = filled()
    const { evidence } = await lab.evidence.keep(intake('content'))
    writeFileSync(file(evidence.sha256), 'damaged')
    await lab.evidence.keep(intake('content'))
    expect(statSync(file(evidence.sha256)).size).toBe(7)
    expect(reopen(lab.folder).check()).toEqual([])
  })
})
