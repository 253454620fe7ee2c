// A whole workspace as one zip: a consistent copy of its database, its files, and a manifest of their hashes at the end.
import { createHash } from 'node:crypto'
import { mkdtempSync, rmSync, statSync } from 'node:fs'
import path from 'node:path'
import { pipeline, Readable } from 'node:stream'
import { DATABASE_FILE } from '../store/database.ts'
import Database from 'better-sqlite3'
import { copyDatabase, requireSame } from './copy-database.ts'
import { filesThere, filesToMove, type FileToMove } from './files-to-move.ts'
import { MANIFEST, MOVING_FORMAT, type ArchivedFile, type ArchiveManifest } from './format.ts'
import { hashing, readFirst } from './hashed-copy.ts'
import { openReader, type LabReader } from './lab-reader.ts'
import { zipStream, type ZipEntry } from './zip-writer.ts'

/** The stream is made while it is read; a broken one is never taken for whole, since its manifest comes last. */
export async function archiveStream(folder: string, exported: string): Promise<Readable> {
  const before = filesThere(folder)
  const reader = openReader(folder)
  // On the workspace's own disk: a temporary folder elsewhere may be too small for a database.
  const temporary = mkdtempSync(path.join(folder, COPY_PREFIX))
  const clear = (): void => {
    reader.close()
    rmSync(temporary, { recursive: true, force: true })
  }
  try {
    await copyDatabase(reader, temporary, 'leave devices out')
    const database = path.join(temporary, DATABASE_FILE)
    const copy = new Database(database, { readonly: true, fileMustExist: true })
    try {
      requireSame(copy, reader)
    } finally {
      copy.close()
    }
    const files = [{ path: DATABASE_FILE, file: database, bytes: statSync(database).size }, ...filesToMove(folder, before, reader)]
    const about = aboutReader(reader, exported)
    // The copy stands for the moment from here on; the workspace's own log may be folded in again.
    reader.close()
    return zipStream(entries(files, about), { at: new Date(exported), done: () => rmSync(temporary, { recursive: true, force: true }) })
  } catch (error) {
    clear()
    throw error
  }
}

/** Names of folders that a killed export leaves in the workspace begin so; nothing else uses them. */
export const COPY_PREFIX = '.copy-'

function aboutReader({ lab, digest, head }: LabReader, exported: string): Omit<ArchiveManifest, 'files'> {
  return { guardband: 'workspace', format: MOVING_FORMAT, exported, lab: { name: lab.name, simulated: lab.simulated }, digest, changes: head }
}

function* entries(files: readonly FileToMove[], about: Omit<ArchiveManifest, 'files'>): Generator<ZipEntry> {
  const written: ArchivedFile[] = []
  for (const { path: at, file, bytes } of files) {
    const hash = createHash('sha256')
    yield {
      path: at,
      bytes,
      // Pictures are packed already, and most evidence is pictures.
      pack: at.startsWith('evidence/') ? 'store' : 'pack',
      open: () => pipeline(readFirst(file, bytes), hashing(hash), () => undefined),
    }
    written.push({ path: at, bytes, sha256: hash.digest('hex') })
  }
  const manifest: ArchiveManifest = { ...about, files: written }
  yield { path: MANIFEST, pack: 'pack', open: () => Readable.from([`${JSON.stringify(manifest, undefined, 1)}\n`], { objectMode: false }) }
}
