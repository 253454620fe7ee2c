// Which files of a workspace belong to a copy of it, though others add to them meanwhile: all that were there before, and all that the copied records name.
// Evidence that no record ever named is left out: it is of an upload under way, or of one that was never acknowledged.
import { lstatSync, readdirSync } from 'node:fs'
import path from 'node:path'
import { evidenceEverNamed } from '../evidence/check-evidence.ts'
import { TEMPORARY_PREFIX } from '../files.ts'
import { FILE_FOLDERS } from './format.ts'
import type { LabReader } from './lab-reader.ts'

export interface FileToMove {
  /** From the workspace's folder, with slashes. */
  readonly path: string
  readonly file: string
  /** So many bytes of it: a journal only grows, and the copied records know it as it was. */
  readonly bytes: number
}

/** Paths of plain files, as they are now. Call before the moment that is copied. Links are left out: they would lead elsewhere. */
export function filesThere(folder: string): readonly string[] {
  return FILE_FOLDERS.flatMap((name) => namesIn(path.join(folder, name)).map((file) => `${name}/${file}`))
}

export function filesToMove(folder: string, before: readonly string[], reader: LabReader): readonly FileToMove[] {
  const named = new Map(reader.files().map((file) => [file.path, file.bytes]))
  const evidence = evidenceEverNamed(reader.db)
  return [...new Set([...before, ...named.keys()])].toSorted().flatMap((at) => {
    // A record that came from elsewhere may name what lies outside.
    if (!INSIDE.test(at)) return []
    if (at.startsWith(IN_EVIDENCE) && !evidence.has(at.slice(IN_EVIDENCE.length))) return []
    const file = path.join(folder, ...at.split('/'))
    const state = lstatSync(file, { throwIfNoEntry: false })
    if (state?.isFile() !== true) return []
    const known = at.startsWith('journals/') ? named.get(at) : undefined
    return [{ path: at, file, bytes: typeof known === 'number' && known > 0 ? Math.min(known, state.size) : state.size }]
  })
}

const IN_EVIDENCE = 'evidence/'
const INSIDE = /^[a-z]+\/(?!\.\.?$)[^/\\]+$/

function namesIn(folder: string): readonly string[] {
  try {
    return readdirSync(folder, { withFileTypes: true }).flatMap((entry) => (entry.isFile() && !entry.name.startsWith(TEMPORARY_PREFIX) ? [entry.name] : []))
  } catch {
    return []
  }
}
