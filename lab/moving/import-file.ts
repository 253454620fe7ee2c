// Makes a new workspace from whatever an export gave: JSON, a zip of CSV files, or an archive. Which of them it is, the file itself says.
import { closeSync, openSync, readFileSync, readSync, statSync } from 'node:fs'
import path from 'node:path'
import { SpokenError } from '@guardband/model'
import type { LabSources } from '../lab.ts'
import { MANIFEST, type ListedFile } from './format.ts'
import { recordsOfCsv } from './import-csv.ts'
import { JSON_LIMIT, recordsOfJson } from './import-json.ts'
import { makeImported } from './make-imported.ts'
import type { Tell } from './moving-task.ts'
import { openArchive } from './open-archive.ts'
import { notAnExport } from './records-in.ts'
import { openZip } from './zip-reader.ts'

export interface Imported {
  readonly folder: string
  readonly from: 'json' | 'csv' | 'archive'
  readonly lab: string
  readonly digest: string
  readonly exported: string
  /** Files that its records name and that did not come along. */
  readonly files: readonly ListedFile[]
}

export interface ImportInput {
  readonly file: string
  /** Names the file in sentences, where it lies under another name. */
  readonly shown?: string
  readonly into: string
  readonly who: string
}

/** The new folder is whole or not there; one that holds something is refused. `tell` may throw, and nothing is made then. */
export async function importFile(input: ImportInput, sources: LabSources, tell: Tell = () => undefined): Promise<Imported> {
  const { file, into, who } = input
  const shown = input.shown ?? file
  const target = path.resolve(into)
  tell({ doing: 'reading', done: 0, all: 0 })
  if (!isZip(file, shown)) {
    if (statSync(file).size > JSON_LIMIT) throw new SpokenError({ code: 'export-too-large', place: shown, message: `an export of records must be at most ${JSON_LIMIT / (1024 * 1024)} MB; got more.`, mend: 'Move the workspace as an archive.' })
    const incoming = recordsOfJson(readFileSync(file), shown, tell)
    makeImported(target, incoming, sources, { who, file: path.basename(shown), tell })
    return { folder: target, from: 'json', lab: labName(incoming.records), digest: incoming.digest, exported: incoming.exported, files: incoming.files }
  }
  const zip = await openZip(file, shown, { entries: MOST_ENTRIES })
  try {
    const manifest = await readManifest(zip, shown)
    const mark = typeof manifest === 'object' && manifest !== null && 'guardband' in manifest ? manifest.guardband : undefined
    if (mark === 'workspace') {
      const opened = await openArchive(zip, manifest, { file, shown }, target, tell)
      return { folder: target, from: 'archive', lab: opened.lab.name, digest: opened.digest, exported: opened.exported, files: [] }
    }
    if (mark !== 'records as csv') throw notAnExport(shown)
    const incoming = await recordsOfCsv(zip, manifest, shown, tell)
    makeImported(target, incoming, sources, { who, file: path.basename(shown), tell })
    return { folder: target, from: 'csv', lab: labName(incoming.records), digest: incoming.digest, exported: incoming.exported, files: incoming.files }
  } finally {
    zip.close()
  }
}

/** More files than a busy lab keeps in years. */
const MOST_ENTRIES = 1_000_000
/** A million files in it at 150 bytes each. */
const MANIFEST_LIMIT = 200 * 1024 * 1024

/** The first bytes of a zip, also of an empty one (APPNOTE 4.3.7 and 4.3.16). */
function isZip(file: string, shown: string): boolean {
  const head = Buffer.alloc(4)
  let handle: number
  try {
    handle = openSync(file, 'r')
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') throw new SpokenError({ code: 'no-file', place: shown, message: 'there is no such file.', mend: 'Check the name.' })
    throw error
  }
  try {
    if (!statSync(file).isFile()) throw new SpokenError({ code: 'not-a-file', place: shown, message: 'it is no file.', mend: 'Name a file that an export made. A workspace folder is opened as it is.' })
    readSync(handle, head, 0, head.length, 0)
  } finally {
    closeSync(handle)
  }
  return head.toString('latin1') === 'PK\u0003\u0004' || head.toString('latin1') === 'PK\u0005\u0006'
}

async function readManifest(zip: Awaited<ReturnType<typeof openZip>>, shown: string): Promise<unknown> {
  if (!zip.names.includes(MANIFEST)) throw notAnExport(shown)
  const text = await zip.text(MANIFEST, MANIFEST_LIMIT)
  try {
    return JSON.parse(text)
  } catch {
    throw new SpokenError({ code: 'archive-manifest', place: `${shown}, ${MANIFEST}`, message: 'it is no JSON.', mend: 'Copy or export it again.' })
  }
}

function labName(records: readonly { readonly kind: string }[]): string {
  const lab = records.find(({ kind }) => kind === 'lab')
  return lab !== undefined && 'name' in lab && typeof lab.name === 'string' ? lab.name : ''
}
