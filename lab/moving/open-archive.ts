// Makes a workspace of an archive: every file against its hash, the database against its digest, all of it or nothing.
import { existsSync, mkdirSync, statfsSync, statSync } from 'node:fs'
import path from 'node:path'
import Database from 'better-sqlite3'
import { counted } from '@guardband/model/figures'
import { SpokenError } from '@guardband/model'
import { spokenFileError, syncFolder } from '../files.ts'
import { DATABASE_FILE, readHeader } from '../store/database.ts'
import { CURRENT_FORMAT } from '../store/migrations.ts'
import { beginWholeFolder, spokenFolderError } from '../whole-folder.ts'
import { requireSame } from './copy-database.ts'
import { archiveManifestSchema, FILE_FOLDERS, MANIFEST, type ArchiveManifest } from './format.ts'
import { writeHashed } from './hashed-copy.ts'
import type { Tell } from './moving-task.ts'
import { checkedRecord, EXPORT_AGAIN, requireFormat } from './records-in.ts'
import { GET_AGAIN, type OpenZip } from './zip-reader.ts'

export async function openArchive(zip: OpenZip, manifestValue: unknown, source: { readonly file: string; readonly shown: string }, target: string, tell: Tell): Promise<ArchiveManifest> {
  const manifest = manifestOf(manifestValue, source.shown)
  requireSameFiles(zip, manifest, source.shown)
  requireReasonable(manifest, source)
  const whole = beginWholeFolder(target)
  try {
    requireRoom(manifest, path.dirname(whole.building), source.shown)
    const all = bytesOf(manifest)
    let done = 0
    const told = async function* (pieces: AsyncIterable<Uint8Array>): AsyncGenerator<Uint8Array> {
      for await (const piece of pieces) {
        done += piece.byteLength
        tell({ doing: 'unpacking', done, all })
        yield piece
      }
    }
    for (const { path: at, bytes, sha256 } of manifest.files) {
      const written = await writeHashed(told(zip.read(at)), path.join(whole.building, ...at.split('/')))
      if (written.bytes !== bytes || written.sha256 !== sha256) throw new SpokenError({ code: 'archive-file', place: `${source.shown}, ${at}`, message: 'it is not the file that was put into the archive: its SHA-256 differs.', mend: GET_AGAIN })
    }
    for (const name of FILE_FOLDERS) if (existsSync(path.join(whole.building, name))) syncFolder(path.join(whole.building, name))
    for (const name of ALWAYS) mkdirSync(path.join(whole.building, name), { recursive: true })
    tell({ doing: 'comparing', done: 0, all: 0 })
    requireDatabase(whole.building, manifest, source.shown)
    whole.finish()
    return manifest
  } catch (error) {
    whole.abandon()
    throw spokenFolderError(target, spokenFileError(error, target))
  }
}

/** As a new workspace has them. */
const ALWAYS = ['journals', 'reports']

function manifestOf(value: unknown, shown: string): ArchiveManifest {
  if (typeof value === 'object' && value !== null && 'format' in value && typeof value.format === 'number') requireFormat(value.format, shown)
  const parsed = archiveManifestSchema.safeParse(value)
  if (parsed.success) return parsed.data
  const issue = parsed.error.issues[0]
  throw new SpokenError({ code: 'archive-manifest', place: `${shown}, ${MANIFEST}${issue === undefined || issue.path.length === 0 ? '' : `, "${issue.path.join('.')}"`}`, message: `${issue?.message ?? 'it is not laid out as that of an archive'}.`, mend: EXPORT_AGAIN })
}

/** Exactly what the manifest says, each in a folder of a workspace. */
function requireSameFiles(zip: OpenZip, { files }: ArchiveManifest, shown: string): void {
  const wanted = new Set(files.map((file) => file.path))
  const strange = zip.names.find((name) => name !== MANIFEST && (!wanted.has(name) || !IN_WORKSPACE.test(name)))
  if (strange !== undefined) throw new SpokenError({ code: 'archive-strange', place: shown, message: `"${strange}" is in it and is no part of a workspace.`, mend: GET_AGAIN })
  if (wanted.size !== files.length || !wanted.has(DATABASE_FILE)) throw new SpokenError({ code: 'archive-manifest', place: `${shown}, ${MANIFEST}`, message: `it must name each file once, and ${DATABASE_FILE} among them.`, mend: GET_AGAIN })
  for (const file of files) {
    if (zip.bytes(file.path) !== file.bytes) throw new SpokenError({ code: 'archive-file', place: `${shown}, ${file.path}`, message: `it must have ${counted(file.bytes, 'byte')}; the archive says ${zip.bytes(file.path)}.`, mend: GET_AGAIN })
  }
}

const IN_WORKSPACE = new RegExp(`^(?:${DATABASE_FILE.replace('.', '\\.')}|(?:${FILE_FOLDERS.join('|')})/[^/]+)$`)

/** A file of a few kilobytes that unpacks to a full disk was made for that. */
function requireReasonable(manifest: ArchiveManifest, { file, shown }: { readonly file: string; readonly shown: string }): void {
  const unpacked = bytesOf(manifest)
  if (unpacked <= Math.max(ALWAYS_FINE, MOST_TIMES * statSync(file).size)) return
  throw new SpokenError({ code: 'archive-bomb', place: shown, message: `it would unpack to ${Math.round(unpacked / GB)} GB, more than ${MOST_TIMES} times its size; no workspace packs so well.`, mend: 'Take only files that an export of this program made.' })
}

function requireRoom(manifest: ArchiveManifest, folder: string, shown: string): void {
  const { bavail, bsize } = statfsSync(folder)
  const needed = bytesOf(manifest)
  if (needed <= bavail * bsize) return
  throw new SpokenError({ code: 'disk-full', place: shown, message: `it needs ${Math.ceil(needed / MB)} MB; the disk has ${Math.floor((bavail * bsize) / MB)} MB left.`, mend: 'Make room, or choose a folder on another disk.' })
}

function bytesOf({ files }: ArchiveManifest): number {
  return files.reduce((sum, { bytes }) => sum + bytes, 0)
}

function requireDatabase(folder: string, manifest: ArchiveManifest, shown: string): void {
  const file = path.join(folder, DATABASE_FILE)
  const header = readHeader(file)
  if (header === null) throw new SpokenError({ code: 'archive-database', place: shown, message: `its ${DATABASE_FILE} is not the database of a workspace.`, mend: GET_AGAIN })
  if (header.format > CURRENT_FORMAT) throw new SpokenError({ code: 'newer-lab', place: shown, message: `its workspace is in format ${header.format}; this program knows formats up to ${CURRENT_FORMAT}.`, mend: 'Open it with the newer program that wrote it.' })
  const db = new Database(file, { readonly: true, fileMustExist: true })
  try {
    requireSame(db, manifest)
    requireSound(db, shown)
  } finally {
    db.close()
  }
}

/** The program trusts what is stored, since it was checked when it was written. Here it was written elsewhere: a record may name a file outside the workspace, a trigger may write at will. */
function requireSound(db: Database.Database, shown: string): void {
  const strange = db.prepare<[], string>(`SELECT name FROM sqlite_schema WHERE type IN ('trigger', 'view') LIMIT 1`).pluck().get()
  if (strange !== undefined) throw new SpokenError({ code: 'archive-database', place: shown, message: `its ${DATABASE_FILE} holds "${strange.slice(0, SHOWN)}", which is no part of a workspace.`, mend: 'Take only files that an export of this program made.' })
  for (const { id, kind, body } of db.prepare<[], { id: string; kind: string; body: string }>('SELECT id, kind, body FROM record ORDER BY id').iterate()) {
    const record = checkedRecord(JSON.parse(body), (field) => `${shown}, ${kind.slice(0, SHOWN)} ${id.slice(0, SHOWN)}${field === '' ? '' : `, "${field}"`}`)
    if (record.id !== id || record.kind !== kind) throw new SpokenError({ code: 'archive-database', place: shown, message: `its ${kind.slice(0, SHOWN)} ${id.slice(0, SHOWN)} is another record inside.`, mend: GET_AGAIN })
  }
}

const MB = 1024 ** 2
const GB = 1024 ** 3
const ALWAYS_FINE = GB
const SHOWN = 100
const MOST_TIMES = 100
