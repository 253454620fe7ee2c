// Holds database, hashes and journals against each other. Every finding is a sentence; none is mended in silence.
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import path from 'node:path'
import { canonicalJson, decodeJournal, recordSchema, sha256Hex, snapshotDigest, snapshotSchema, SpokenError, type LabRecord } from '@guardband/model'
import { evidenceFindings } from './evidence/check-evidence.ts'
import { TEMPORARY_PREFIX } from './files.ts'
import { JOURNALS_FOLDER } from './intake/journal/journal-book.ts'
import type { LabCore } from './lab-core.ts'
import type { CheckFinding } from './lab.ts'
import { REPORTS_FOLDER, snapshotsFile } from './publish.ts'
import { describeRecord } from './store/describe.ts'
import { requireReferences } from './store/references.ts'
import { DAMAGE_MEND, speakDatabaseErrors } from './store/speak-database-errors.ts'

export type CheckedLab = Pick<LabCore, 'folder' | 'db' | 'store'>

export function checkLab(core: CheckedLab): readonly CheckFinding[] {
  return atOneMoment(core, () => {
    const damage = damageFindings(core)
    // What is read from a damaged database says nothing about the rest.
    return damage.length > 0 ? damage : findings(core)
  })
}

/** The same of a database that was found undamaged just before. */
export function checkContents(core: CheckedLab): readonly CheckFinding[] {
  return atOneMoment(core, () => findings(core))
}

/** One read transaction: what another process writes meanwhile doesn't look like a contradiction. */
function atOneMoment(core: CheckedLab, work: () => readonly CheckFinding[]): readonly CheckFinding[] {
  return speakDatabaseErrors(core.folder, () => core.db.transaction(work)())
}

function findings(core: CheckedLab): readonly CheckFinding[] {
  return [...foreignFindings(core), ...recordFindings(core), ...logFindings(core), ...journalFindings(core), ...reportFindings(core), ...evidenceFindings(core)]
}

function damageFindings({ db }: CheckedLab): readonly CheckFinding[] {
  const integrity = (db.pragma('integrity_check') as readonly { readonly integrity_check: string }[]).filter((row) => row.integrity_check !== 'ok')
  return integrity.slice(0, MOST_DAMAGE).map((row) => ({ place: 'lab.db', sentence: `lab.db is damaged: ${oneLine(row.integrity_check)}. ${DAMAGE_MEND}` }))
}

/** SQLite's own words begin with a heading that says nothing. */
function oneLine(text: string): string {
  return text.replace(/^\*\*\*.*\*\*\*\n/, '').split('\n').join('; ')
}

/** Each names a page or row of one and the same damage. */
const MOST_DAMAGE = 3

function foreignFindings({ db }: CheckedLab): readonly CheckFinding[] {
  const foreign = db.pragma('foreign_key_check') as readonly { readonly table: string }[]
  return foreign.map((row) => ({ place: 'lab.db', sentence: `A row of table ${row.table} names a change that is not there.` }))
}

function recordFindings({ db, store }: CheckedLab): readonly CheckFinding[] {
  const findings: CheckFinding[] = []
  let labs = 0
  for (const row of db.prepare<[], { id: string; kind: string; body: string }>('SELECT id, kind, body FROM record ORDER BY id').iterate()) {
    const record = readRecord(row.body)
    if (record === null || record.id !== row.id || record.kind !== row.kind) {
      findings.push({ place: `${row.kind} ${row.id}`, sentence: 'The record is not sound.' })
      continue
    }
    if (record.kind === 'lab') labs += 1
  }
  if (labs !== 1) findings.push({ place: 'lab.db', sentence: `A workspace has one record of itself; this one has ${labs}.` })
  if (findings.length > 0) return findings
  for (const row of db.prepare<[], { body: string }>('SELECT body FROM record ORDER BY id').all()) {
    const record = JSON.parse(row.body) as LabRecord
    try {
      requireReferences(record, store)
    } catch (error) {
      if (!(error instanceof SpokenError)) throw error
      findings.push({ place: describeRecord(record, store.get), sentence: error.message })
    }
  }
  return findings
}

/** Replays the whole log and compares it with what the records are now. */
function logFindings({ db }: CheckedLab): readonly CheckFinding[] {
  const findings: CheckFinding[] = []
  const replayed = new Map<string, string>()
  for (const item of db.prepare<[], { seq: number; id: string; kind: string; before: string | null; after: string | null }>('SELECT seq, id, kind, before, after FROM change_item ORDER BY seq, place').iterate()) {
    if ((replayed.get(item.id) ?? null) !== item.before) findings.push({ place: `change ${item.seq}`, sentence: `It says of ${item.kind} ${item.id} another state before than the changes up to it left.` })
    if (item.after === null) replayed.delete(item.id)
    else replayed.set(item.id, item.after)
  }
  for (const row of db.prepare<[], { id: string; kind: string; body: string }>('SELECT id, kind, body FROM record').iterate()) {
    const body = replayed.get(row.id)
    replayed.delete(row.id)
    if (body !== row.body) findings.push({ place: `${row.kind} ${row.id}`, sentence: 'The change log does not lead to the record as it is stored.' })
  }
  for (const id of replayed.keys()) findings.push({ place: id, sentence: 'The change log holds this record, but it is not stored.' })
  let expected = 1
  for (const { seq } of db.prepare<[], { seq: number }>('SELECT seq FROM change ORDER BY seq').iterate()) {
    if (seq !== expected) findings.push({ place: `change ${seq}`, sentence: `Change ${expected} is missing before it.` })
    expected = seq + 1
  }
  return findings
}

function journalFindings({ db, folder }: CheckedLab): readonly CheckFinding[] {
  const findings: CheckFinding[] = []
  const rows = db.prepare<[], { id: string; file: string; digest: string; last_hash: string }>('SELECT id, file, digest, last_hash FROM journal').all()
  const known = new Set(rows.map((row) => row.file))
  for (const row of rows) {
    const place = `${JOURNALS_FOLDER}/${row.file}`
    const bytes = readBytes(path.join(folder, JOURNALS_FOLDER, row.file))
    if (bytes === null) findings.push({ place, sentence: 'The journal is gone; its runs are in the database.' })
    else if (sha256Hex(bytes) !== row.digest) findings.push({ place, sentence: 'The journal is not the file that was taken in.' })
    else if ((decodeJournal(bytes).entries.at(-1)?.hash ?? '') !== row.last_hash) findings.push({ place, sentence: 'The last record of the journal is not the one that was taken in.' })
  }
  for (const name of list(path.join(folder, JOURNALS_FOLDER))) {
    if (!known.has(name)) findings.push({ place: `${JOURNALS_FOLDER}/${name}`, sentence: 'This file was not taken in. Take it in, or move it elsewhere.' })
  }
  return findings
}

function reportFindings({ store, folder }: CheckedLab): readonly CheckFinding[] {
  const findings: CheckFinding[] = []
  const known = new Set<string>()
  for (const report of store.list('report')) {
    known.add(report.file).add(snapshotsFile(report))
    const place = `${REPORTS_FOLDER}/${report.file}`
    const bytes = readBytes(path.join(folder, REPORTS_FOLDER, report.file))
    if (bytes === null) findings.push({ place, sentence: 'The published report is gone.' })
    else if (sha256Hex(bytes) !== report.fileDigest) findings.push({ place, sentence: 'The published report is not the file that was published.' })
    const snapshots = readBytes(path.join(folder, REPORTS_FOLDER, snapshotsFile(report)))
    const wanted = report.answers.map(({ snapshotDigest }) => snapshotDigest)
    if (snapshots === null) findings.push({ place: `${REPORTS_FOLDER}/${snapshotsFile(report)}`, sentence: 'The snapshots of the report are gone.' })
    else if (canonicalJson(readDigests(snapshots)) !== canonicalJson(wanted)) findings.push({ place: `${REPORTS_FOLDER}/${snapshotsFile(report)}`, sentence: 'The snapshots are not those that the report was made from.' })
  }
  for (const name of list(path.join(folder, REPORTS_FOLDER))) {
    if (!known.has(name)) findings.push({ place: `${REPORTS_FOLDER}/${name}`, sentence: 'No report in the workspace names this file: its publication was interrupted or taken back.' })
  }
  return findings
}

function readRecord(body: string): LabRecord | null {
  try {
    const parsed = recordSchema.safeParse(JSON.parse(body))
    return parsed.success ? parsed.data : null
  } catch {
    return null
  }
}

function readDigests(bytes: Uint8Array): readonly string[] | null {
  try {
    const parsed = snapshotSchema.array().safeParse(JSON.parse(Buffer.from(bytes).toString('utf8')))
    return parsed.success ? parsed.data.map(snapshotDigest) : null
  } catch {
    return null
  }
}

function readBytes(file: string): Uint8Array | null {
  try {
    return readFileSync(file)
  } catch {
    return null
  }
}

/** Files only, without those whose writing was cut short: they were never acknowledged. */
function list(folder: string): readonly string[] {
  if (!existsSync(folder)) return []
  return readdirSync(folder).filter((name) => !name.startsWith(TEMPORARY_PREFIX))
}
