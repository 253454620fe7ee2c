// Archives whose database was written by somebody else: whole and with the right hashes, and still no workspace.
import { createHash } from 'node:crypto'
import { readFileSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import { buffer } from 'node:stream/consumers'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { ZipFile } from 'yazl'
import { canonicalJson, SpokenError } from '@guardband/model'
import { importFile, keepStream } from '../index.ts'
import { digestOfBodies } from '../moving/content-digest.ts'
import { openZip } from '../moving/zip-reader.ts'
import { adding, bench, BY, newLab, reopen, temporaryFolder, testSources } from './support.ts'

/** An archive with its database changed, and a manifest that says so. */
async function forged(change: (db: Database.Database) => void): Promise<string> {
  const sources = testSources()
  const lab = newLab(sources)
  lab.apply({ ...BY, items: adding(...bench(sources).records) })
  const folder = temporaryFolder()
  const plain = path.join(folder, 'plain.zip')
  await keepStream(await lab.moving.export('archive'), plain)
  const zip = await openZip(plain, plain, { entries: 100 })
  const database = path.join(folder, 'lab.db')
  const pieces: Uint8Array[] = []
  for await (const piece of zip.read('lab.db')) pieces.push(piece)
  writeFileSync(database, Buffer.concat(pieces))
  const manifest = JSON.parse(await zip.text('manifest.json', 1e6)) as { digest: string; files: { path: string; bytes: number; sha256: string }[] }
  zip.close()
  const db = new Database(database)
  change(db)
  manifest.digest = digestOfBodies(db.prepare<[], string>('SELECT body FROM record ORDER BY id').pluck().all())
  db.close()
  const bytes = readFileSync(database)
  manifest.files = [{ path: 'lab.db', bytes: bytes.length, sha256: createHash('sha256').update(bytes).digest('hex') }]
  const made = new ZipFile()
  made.addBuffer(bytes, 'lab.db')
  made.addBuffer(Buffer.from(JSON.stringify(manifest)), 'manifest.json')
  made.end()
  const file = path.join(folder, 'forged.zip')
  writeFileSync(file, await buffer(made.outputStream))
  return file
}

async function told(file: string): Promise<string> {
  const into = path.join(temporaryFolder(), 'lab')
  try {
    await importFile({ file, shown: 'it', into, who: 'Ada Hollin' }, testSources({}, 5))
  } catch (error) {
    if (error instanceof SpokenError) return error.sentence
    throw error
  }
  expect(reopen(into).check()).toEqual([])
  return 'opened'
}

const EVIDENCE = { kind: 'evidence', id: '01a0a0a0-0000-7000-8000-000000000001', sha256: '../../other', name: 'x', mediaType: 'a/b', bytes: 1, at: '2026-11-05T08:00:00Z', by: 'x', about: [] }

describe('an archive with a database from elsewhere', () => {
  it('opens when nothing in it was changed', async () => {
    expect(await told(await forged(() => undefined))).toBe('opened')
  })

  it('is refused when a record in it is none that could have been written, such as one that names a file outside', async () => {
    const file = await forged((db) => db.prepare('INSERT INTO record (id, kind, body, rev) VALUES (?, ?, ?, 1)').run(EVIDENCE.id, EVIDENCE.kind, canonicalJson(EVIDENCE)))
    expect(await told(file)).toMatch(/^it, evidence 01a0a0a0-0000-7000-8000-000000000001, "sha256": must be a SHA-256/)
  })

  it('is refused when it brings a trigger or a view of its own', async () => {
    expect(await told(await forged((db) => db.exec('CREATE TRIGGER helper AFTER INSERT ON change BEGIN DELETE FROM change_item; END')))).toMatch(/^it: its lab\.db holds "helper", which is no part of a workspace\./)
  })
})

describe('an archive that is made', () => {
  it('holds no file from outside of the workspace, whatever a record names', async () => {
    const sources = testSources()
    const lab = newLab(sources)
    const folder = path.dirname(lab.folder)
    writeFileSync(path.join(folder, 'secret.html'), 'of somebody else')
    lab.apply({ ...BY, told: 'restored', items: adding({ kind: 'report', id: sources.newId(), title: 'First', number: 1, at: '2026-11-05T08:00:00Z', file: '../../secret.html', fileDigest: '', answers: [] }) })
    const file = path.join(folder, 'made.zip')
    await keepStream(await lab.moving.export('archive'), file)
    expect(readFileSync(file).includes('secret.html')).toBe(false)
    const zip = await openZip(file, file, { entries: 100 })
    expect(zip.names).toEqual(['lab.db', 'manifest.json'])
    zip.close()
  })
})
