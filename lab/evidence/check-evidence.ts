// Holds the evidence folder against the records: files that are missing, altered, or that no record ever named.
import { createHash } from 'node:crypto'
import { closeSync, existsSync, openSync, readdirSync, readSync } from 'node:fs'
import path from 'node:path'
import { TEMPORARY_PREFIX } from '../files.ts'
import type { LabCore } from '../lab-core.ts'
import type { CheckFinding } from '../lab.ts'
import { EVIDENCE_FOLDER } from './evidence-book.ts'

export function evidenceFindings({ db, store, folder }: Pick<LabCore, 'db' | 'store' | 'folder'>): readonly CheckFinding[] {
  const findings: CheckFinding[] = []
  const inFolder = path.join(folder, EVIDENCE_FOLDER)
  const looked = new Map<string, string | null>()
  const hashOf = (name: string): string | null => {
    const known = looked.get(name)
    if (known !== undefined) return known
    const hash = fileHash(path.join(inFolder, name))
    looked.set(name, hash)
    return hash
  }
  for (const evidence of store.list('evidence')) {
    for (const { sha256, what } of [{ sha256: evidence.sha256, what: 'file' }, ...(evidence.thumbnail === undefined ? [] : [{ sha256: evidence.thumbnail, what: 'small picture' }])]) {
      const found = hashOf(sha256)
      const place = `${EVIDENCE_FOLDER}/${sha256}`
      if (found === null) findings.push({ place, sentence: `The ${what} of evidence "${evidence.name}" is gone. Put it back from a copy.` })
      else if (found !== sha256) findings.push({ place, sentence: `The ${what} of evidence "${evidence.name}" is not the one that was kept. Put it back from a copy.` })
    }
  }
  if (!existsSync(inFolder)) return findings
  const named = evidenceEverNamed(db)
  for (const name of readdirSync(inFolder).toSorted()) {
    if (name.startsWith(TEMPORARY_PREFIX) || named.has(name)) continue
    findings.push({ place: `${EVIDENCE_FOLDER}/${name}`, sentence: 'No record ever named this file: its upload was interrupted, or it was put there by hand. Send it again, or move it elsewhere.' })
  }
  return findings
}

/** Hashes of all evidence in the change log: what was taken off keeps its file, so that it can be brought back. */
export function evidenceEverNamed(db: LabCore['db']): ReadonlySet<string> {
  const names = new Set<string>()
  const rows = db.prepare<[], { file: string | null; thumbnail: string | null }>(
    `SELECT json_extract(after, '$.sha256') AS file, json_extract(after, '$.thumbnail') AS thumbnail FROM change_item WHERE kind = 'evidence' AND after IS NOT NULL`,
  )
  for (const { file, thumbnail } of rows.iterate()) {
    if (file !== null) names.add(file)
    if (thumbnail !== null) names.add(thumbnail)
  }
  return names
}

/** Null when the file can't be read. Piece by piece, so that a large file does not sit in memory. */
function fileHash(file: string): string | null {
  const piece = Buffer.alloc(PIECE)
  let handle: number
  try {
    handle = openSync(file, 'r')
  } catch {
    return null
  }
  try {
    const hash = createHash('sha256')
    for (;;) {
      const read = readSync(handle, piece, 0, PIECE, null)
      if (read === 0) return hash.digest('hex')
      hash.update(piece.subarray(0, read))
    }
  } catch {
    return null
  } finally {
    closeSync(handle)
  }
}

const PIECE = 1024 * 1024
