import { appendFileSync, chmodSync, copyFileSync, cpSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, truncateSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import path from 'node:path'
import { Readable } from 'node:stream'
import Database from 'better-sqlite3'
import * as fc from 'fast-check'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { ZipFile } from 'yazl'
import { contentDigest, type LabRecord } from '@guardband/model'
import { createLab, importFile, keepStream, type ExportForm, type Imported, type Lab } from '../index.ts'
import { digestOfBodies } from '../moving/content-digest.ts'
import { csvLine } from '../moving/csv-lines.ts'
import { cellText, leafOf } from '../moving/flat-record.ts'
import { openZip } from '../moving/zip-reader.ts'
import { adding, bench, BY, folderState, journalBodies, journalFile, journalIds, reopen, temporaryFolder, testSources, track } from './support.ts'

const answerWorker = new URL('children/answer-worker.ts', import.meta.url)
/** What a spreadsheet would run, a guard, an empty text, line breaks, quotes, other scripts, marks that turn a line around. */
const AWKWARD = ['=HYPERLINK("http://x")', '+1', '-2', '@sum', "'quoted", '', '\ttab', '\r\ncarriage', 'a,b;c"d"', 'μ 你好 🧪', 'a\u202eb', ' lead', 'trail ', '-5', '1.10', 'true', '{}', '\uff1dwide']

/** One record of many shapes, runs, evidence, a journal, a report; every text field somewhere holds something awkward. */
async function filled(folder = path.join(temporaryFolder(), 'lab')): Promise<{ readonly lab: Lab; readonly digest: string }> {
  const sources = testSources({ answerWorker, renderReport: () => '<h1>report</h1>' })
  const lab = createLab(folder, { name: 'Hollin & Pike', currency: 'EUR', simulated: true }, sources)
  track(lab)
  const world = bench(sources)
  const id = sources.newId
  const noted: LabRecord[] = AWKWARD.map((note) => ({ kind: 'rig', id: id(), name: 'south bench', note }))
  const more: LabRecord[] = [
    ...noted,
    { kind: 'tune', id: id(), name: '=1+1', settings: [{ key: 'curve', scope: { level: 'core', index: '3' }, asked: { shape: 'curve', points: [[0.7, -12.5], [1.2, 1e-7]], unit: 'V' } }] },
    { kind: 'setting kind', id: id(), name: 'core voltage', shape: 'scalar', unit: '', level: 'package', step: 0.005, usualLow: -0.2 },
    { kind: 'dose', id: id(), sampleId: world.a1.id, at: '2026-11-05T08:00:00+01:00', setting: 'core voltage', volts: 1.35, temperature: -40.5, hours: 1e-3, known: 'measured' },
    { kind: 'ceiling', id: id(), name: 'core voltage', settings: ['core voltage'], unit: 'V', highest: 1.4, lowestTemperature: -50 },
  ]
  lab.apply({ ...BY, items: adding(...world.records, ...more, ...world.start(world.seats[0], world.t65, [40, 41.25], { conditions: {} }), ...world.start(world.seats[2], world.t65, [38])) })
  await lab.evidence.keep({ request: id(), who: '=Ada', name: 'paste.jpg', mediaType: 'image/jpeg', about: [world.a1.id], thumbnailBytes: 3, limit: 1000, pieces: Readable.from([Buffer.from([0xff, 0xd8, 0xff]), Buffer.from('the picture')]) })
  lab.intakeJournal({ bytes: journalFile(journalBodies(journalIds(id))).bytes, file: 'x', who: 'north bench' })
  const question = lab.ask({ title: 'plain', ask: { kind: 'gain', about: world.about() } }, BY)
  await lab.publish({ title: 'First', questionIds: [question], who: 'Ada Hollin' })
  expect(lab.check()).toEqual([])
  return { lab, digest: lab.moving.digest() }
}

/** Filled and exported once: making it takes longer than most tests of it. */
const sharedFolder = mkdtempSync(path.join(tmpdir(), 'guardband-moving-'))
let shared: { readonly digest: string; readonly folder: string }
beforeAll(async () => {
  const { lab, digest } = await filled(path.join(sharedFolder, 'lab'))
  for (const form of ['json', 'csv', 'archive'] as const) await keepStream(await lab.moving.export(form), path.join(sharedFolder, form))
  await lab.close()
  shared = { digest, folder: lab.folder }
})
afterAll(() => rmSync(sharedFolder, { recursive: true, force: true }))

/** A copy of the shared workspace, which a test may write to. */
function copied(): { readonly lab: Lab; readonly digest: string } {
  const folder = path.join(temporaryFolder(), 'lab')
  cpSync(shared.folder, folder, { recursive: true })
  return { lab: opened(folder), digest: shared.digest }
}

/** A copy of an export of the shared workspace, which a test may damage. */
function exported(form: ExportForm): string {
  const file = path.join(temporaryFolder(), `lab.${form === 'json' ? 'json' : 'zip'}`)
  copyFileSync(path.join(sharedFolder, form), file)
  return file
}

function taken(file: string, into = path.join(temporaryFolder(), 'lab')): Promise<Imported> {
  return importFile({ file, shown: 'it', into, who: 'Ada Hollin' }, testSources({}, 5))
}

function opened(folder: string): Lab {
  return track(reopen(folder))
}

/** A zip of the same entries with some changed, left out (null) or added. */
async function rezipped(file: string, change: Readonly<Record<string, ((text: string) => string) | null>>, added: Readonly<Record<string, string>> = {}): Promise<string> {
  const from = await openZip(file, 'from', { entries: 100 })
  const zip = new ZipFile()
  for (const name of from.names) {
    const bytes: Uint8Array[] = []
    for await (const piece of from.read(name)) bytes.push(piece)
    const edit = change[name]
    if (edit === null) continue
    zip.addBuffer(edit === undefined ? Buffer.concat(bytes) : Buffer.from(edit(Buffer.concat(bytes).toString('utf8'))), name)
  }
  for (const [name, text] of Object.entries(added)) zip.addBuffer(Buffer.from(text), name)
  zip.end()
  from.close()
  const to = path.join(temporaryFolder(), 'changed.zip')
  await keepStream(Readable.from(zip.outputStream), to)
  return to
}

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

describe('a JSON export that was changed, cut or made elsewhere', () => {
  const cases: readonly (readonly [name: string, change: (text: string) => string | Uint8Array, sentence: RegExp])[] = [
    ['a figure was changed in', (text) => text.replace('"value":41.25', '"value":40.25'), /^it: its records are not those that were exported/],
    ['a record was taken out of', (text) => text.replace(/\n\{[^\n]*"kind":"dose"[^\n]*/, ''), /^it: it must hold \d+ records; it holds \d+\. Export/],
    ['a record was put in twice', (text) => text.replace(/\n(\{[^\n]*"kind":"dose"[^\n]*)\n/, '\n$1\n$1\n'), /is in it twice/],
    ['a field of the wrong type stands in', (text) => text.replace('"volts":1.35', '"volts":"high"'), /^it, line \d+, "volts": Invalid input/],
    ['an unknown field stands in', (text) => text.replace('"volts":1.35', '"volts":1.35,"amps":3'), /^it, line \d+: /],
    ['the end is missing of', (text) => text.slice(0, text.length / 2), /^it, line \d+, column \d+: from here on it is no JSON: it was cut or changed/],
    ['a quote is missing in', (text) => text.replace('"name":"north bench"', '"name":north bench"'), /^it, line \d+, column \d+: from here on/],
    ['the digest is missing in', (text) => text.replace(/"digest":"[0-9a-f]+",/, ''), /^it, "digest": /],
    ['a newer program wrote', (text) => text.replace('"format":1', '"format":2'), /format 2; this program knows formats up to 1/],
    ['Latin-1 bytes stand in', (text) => Buffer.from(text, 'latin1'), /must be UTF-8/],
    ['another program made', () => '{"results":[1,2]}', /it is no export of a workspace/],
    ['a list is', () => '[]', /it is no export of a workspace/],
    ['nothing is in', () => '', /line 1, column 1: from here on it is no JSON/],
    ['a prototype is reached for in', (text) => text.replace('"volts":1.35', '"volts":1.35,"__proto__":{"x":1}'), /^it, line \d+/],
  ]
  it.each(cases)('%s: is refused with its place, and nothing is made', async (_name, change, sentence) => {
    const file = exported('json')
    const text = readFileSync(file, 'utf8')
    const changed = change(text)
    expect(changed).not.toBe(text)
    writeFileSync(file, changed)
    const into = path.join(temporaryFolder(), 'lab')
    await expect(taken(file, into)).rejects.toThrow(expect.objectContaining({ sentence: expect.stringMatching(sentence) }))
    expect(readdirSync(path.dirname(into))).toEqual([])
  })

  it('names the line of the very record that is wrong', async () => {
    const file = exported('json')
    const lines = readFileSync(file, 'utf8').split('\n')
    const at = lines.findIndex((line) => line.includes('"kind":"dose"'))
    lines[at] = lines[at].replace('"hours":0.001', '"hours":-1')
    writeFileSync(file, lines.join('\n'))
    await expect(taken(file)).rejects.toThrow(expect.objectContaining({ sentence: expect.stringContaining(`it, line ${at + 1}, "hours"`) }))
  })

  it('laid out anew by another program is taken in, since its content is the same', async () => {
    const { digest } = shared
    const file = exported('json')
    writeFileSync(file, `\ufeff${JSON.stringify(JSON.parse(readFileSync(file, 'utf8')), undefined, 2)}`)
    expect((await taken(file)).digest).toBe(digest)
  })
})

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

describe('keeping a stream as a file', () => {
  it('never writes over what is there, a link that leads nowhere included', async () => {
    const folder = temporaryFolder()
    const file = path.join(folder, 'mine.json')
    writeFileSync(file, 'mine')
    symlinkSync(path.join(folder, 'nowhere'), path.join(folder, 'link'))
    for (const name of ['mine.json', 'link']) await expect(keepStream(Readable.from(['x']), path.join(folder, name))).rejects.toThrow('nothing is written over it')
    expect(readFileSync(file, 'utf8')).toBe('mine')
    expect(readdirSync(folder).toSorted()).toEqual(['link', 'mine.json'])
  })

  it('leaves nothing when the stream breaks, the folder is missing, or the disk is full', async () => {
    const folder = temporaryFolder()
    const broken = new Readable({ read() { this.push('half'); this.destroy(new Error('broken')) } })
    await expect(keepStream(broken, path.join(folder, 'x'))).rejects.toThrow('broken')
    await expect(keepStream(Readable.from(['x']), path.join(folder, 'no', 'x'))).rejects.toThrow('the folder that it should go to is not there')
    expect(readdirSync(folder)).toEqual([])
  })

  it.skipIf(!existsSync('/dev/full'))('says that the disk is full, in words', async () => {
    const { spokenFileError } = await import('../files.ts')
    const error = await new Promise<unknown>((resolve) => {
      try {
        appendFileSync('/dev/full', 'x')
      } catch (thrown) {
        resolve(thrown)
      }
    })
    expect(spokenFileError(error, '/x')).toMatchObject({ code: 'file-not-written', mend: 'Make room on the disk and repeat it.' })
  })
})

describe('a backup', () => {
  it('is a workspace of its own with the same digest, history and files, and the workspace knows of it', async () => {
    const { lab, digest } = copied()
    expect(lab.moving.lastBackup()).toBeNull()
    const made = await lab.moving.backup()
    expect(made).toMatchObject({ digest, head: lab.head(), findings: [] })
    expect(path.dirname(made.folder)).toBe(`${lab.folder}-backups`)
    expect(lab.moving.lastBackup()).toEqual({ at: made.at, folder: made.folder })
    const copy = opened(made.folder)
    expect(copy.moving.digest()).toBe(digest)
    expect(copy.changes({ count: 99 })).toEqual(lab.changes({ count: 99 }))
    expect(copy.check()).toEqual([])
    const again = await lab.moving.backup()
    expect(again.folder).not.toBe(made.folder)
  })

  it('of a workspace that is being written to holds one moment of it', async () => {
    const { lab } = copied()
    const { newId } = testSources({}, 9)
    let writing = true
    const writes = (async () => {
      for (let at = 0; writing; at++) {
        lab.apply({ ...BY, items: adding({ kind: 'rig', id: newId(), name: `rig ${at}` }) })
        await lab.evidence.keep({ request: newId(), who: 'Ada', name: `${at}.txt`, mediaType: 'text/plain', about: [lab.list('rig')[0].id], thumbnailBytes: 0, limit: 100, pieces: Readable.from([Buffer.from(`file ${at}`)]) })
      }
    })()
    const backups = []
    for (let at = 0; at < 5; at++) backups.push(await lab.moving.backup())
    const archive = path.join(temporaryFolder(), 'meanwhile.zip')
    await keepStream(await lab.moving.export('archive'), archive)
    writing = false
    await writes
    expect(new Set(backups.map(({ head }) => head)).size).toBeGreaterThan(1)
    for (const { folder, digest, head, findings } of backups) {
      const copy = opened(folder)
      expect([copy.head(), copy.moving.digest(), findings]).toEqual([head, digest, []])
      expect(copy.check()).toEqual([])
    }
    expect(opened((await taken(archive)).folder).check()).toEqual([])
  })

  it('takes of a journal that grew meanwhile what its records know of it', async () => {
    const { lab } = copied()
    const [name] = readdirSync(path.join(lab.folder, 'journals'))
    appendFileSync(path.join(lab.folder, 'journals', name), 'a line that came after\n')
    const made = await lab.moving.backup()
    expect(made.findings).toEqual([])
    expect(opened(made.folder).check()).toEqual([])
  })

  it('never writes over anything, into itself, or where it may not', async () => {
    const { lab } = copied()
    const before = folderState(lab.folder)['lab.db']
    await expect(lab.moving.backup(path.join(lab.folder, 'backup'))).rejects.toThrow('must lie outside')
    await expect(lab.moving.backup(lab.folder)).rejects.toThrow('must lie outside')
    const full = temporaryFolder()
    writeFileSync(path.join(full, 'mine'), 'x')
    await expect(lab.moving.backup(full)).rejects.toThrow('this folder holds other files')
    await expect(lab.moving.backup(path.join(full, 'mine', 'x'))).rejects.toThrow('a file stands where a folder would have to be')
    expect(readdirSync(full)).toEqual(['mine'])
    expect(lab.moving.lastBackup()).toBeNull()
    expect(folderState(lab.folder)['lab.db']).toBe(before)
  })

  it.skipIf(process.getuid?.() === 0)('into a read-only folder says so', async () => {
    const { lab } = copied()
    const locked = temporaryFolder()
    chmodSync(locked, 0o500)
    await expect(lab.moving.backup(path.join(locked, 'b'))).rejects.toThrow('you have no right to write there')
  })

  it('follows no link out of the workspace, and says what the check would', async () => {
    const { lab } = copied()
    const secret = path.join(temporaryFolder(), 'secret')
    writeFileSync(secret, 'secret')
    const [picture] = lab.list('evidence')
    rmSync(path.join(lab.folder, 'evidence', picture.sha256))
    symlinkSync(secret, path.join(lab.folder, 'evidence', picture.sha256))
    const made = await lab.moving.backup()
    expect(made.findings.map(({ sentence }) => sentence)).toEqual(['The file of evidence "paste.jpg" is gone. Put it back from a copy.'])
    expect(existsSync(path.join(made.folder, 'evidence', picture.sha256))).toBe(false)
  })

  it('of a damaged database is refused and leaves nothing', async () => {
    const { lab } = copied()
    await lab.close()
    const file = path.join(lab.folder, 'lab.db')
    const db = new Database(file)
    const { rootpage } = db.prepare<[], { rootpage: number }>("SELECT rootpage FROM sqlite_master WHERE name = 'answer_by_question'").get() ?? { rootpage: 0 }
    const size = Number(db.pragma('page_size', { simple: true }))
    db.close()
    writeFileSync(file, readFileSync(file).fill(0xff, (rootpage - 1) * size, rootpage * size))
    const damaged = opened(lab.folder)
    const target = path.join(temporaryFolder(), 'b')
    await expect(damaged.moving.backup(target)).rejects.toThrow('damaged')
    expect(readdirSync(path.dirname(target))).toEqual([])
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
