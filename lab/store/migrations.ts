// The formats of lab.db, one numbered step each. A step is never changed once it is out: a new need is a new step.
import { readFileSync } from 'node:fs'
import path from 'node:path'
import type Database from 'better-sqlite3'
import { decodeJournal } from '@guardband/model'

export interface Migration {
  /** The format that stands after this step. */
  readonly to: number
  readonly what: string
  readonly run: (db: Database.Database, workspace: { readonly folder: string }) => void
}

export const MIGRATIONS: readonly Migration[] = [
  {
    to: 1,
    what: 'records, change log, files seen, journals kept',
    run: (db) => {
      db.exec(`
        CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
        CREATE TABLE record (id TEXT PRIMARY KEY, kind TEXT NOT NULL, body TEXT NOT NULL, rev INTEGER NOT NULL);
        CREATE TABLE change (
          seq INTEGER PRIMARY KEY, at TEXT NOT NULL, who TEXT NOT NULL, what TEXT NOT NULL, why TEXT, undoes INTEGER REFERENCES change (seq));
        CREATE TABLE change_item (
          seq INTEGER NOT NULL REFERENCES change (seq), place INTEGER NOT NULL, id TEXT NOT NULL, kind TEXT NOT NULL, before TEXT, after TEXT,
          PRIMARY KEY (seq, place));
        CREATE INDEX change_item_by_record ON change_item (id, seq);
        CREATE TABLE intake_seen (digest TEXT PRIMARY KEY, file TEXT NOT NULL, at TEXT NOT NULL, change INTEGER NOT NULL REFERENCES change (seq));
        CREATE TABLE journal (id TEXT PRIMARY KEY, file TEXT NOT NULL, digest TEXT NOT NULL);
      `)
    },
  },
  {
    to: 2,
    what: 'columns and indexes that lists need; answers kept by the digest of their snapshot',
    run: (db) => {
      for (const [column, field] of GENERATED) {
        db.exec(`ALTER TABLE record ADD COLUMN ${column} TEXT GENERATED ALWAYS AS (json_extract(body, '$.${field}')) VIRTUAL`)
      }
      db.exec(`
        CREATE INDEX record_by_kind ON record (kind, id);
        CREATE INDEX record_by_start ON record (kind, start_id);
        CREATE INDEX record_by_workload ON record (workload_id) WHERE workload_id IS NOT NULL;
        CREATE INDEX record_by_assembly ON record (assembly_id) WHERE assembly_id IS NOT NULL;
        CREATE INDEX record_by_part ON record (part_id) WHERE part_id IS NOT NULL;
        CREATE INDEX record_by_rig ON record (rig_id) WHERE rig_id IS NOT NULL;
        CREATE INDEX record_by_mount ON record (mount_id) WHERE mount_id IS NOT NULL;
        CREATE INDEX record_by_tune ON record (tune_id) WHERE tune_id IS NOT NULL;
        CREATE INDEX record_by_base ON record (base_id) WHERE base_id IS NOT NULL;
        CREATE INDEX run_by_outcome ON record (outcome) WHERE outcome IS NOT NULL;
        CREATE TABLE answer_cache (
          digest TEXT PRIMARY KEY, kind TEXT NOT NULL, answer TEXT NOT NULL, at TEXT NOT NULL,
          question_id TEXT GENERATED ALWAYS AS (json_extract(answer, '$.question.id')) VIRTUAL);
        CREATE INDEX answer_by_question ON answer_cache (question_id, at);
      `)
    },
  },
  {
    to: 3,
    what: 'the chain of journals: how long each is, its last hash, the one before, what it resolved',
    run: (db, { folder }) => {
      db.exec(`
        ALTER TABLE journal ADD COLUMN length INTEGER NOT NULL DEFAULT 0;
        ALTER TABLE journal ADD COLUMN last_hash TEXT NOT NULL DEFAULT '';
        ALTER TABLE journal ADD COLUMN previous TEXT;
        ALTER TABLE journal ADD COLUMN rig_id TEXT;
        ALTER TABLE journal ADD COLUMN change INTEGER REFERENCES change (seq);
        CREATE INDEX journal_by_previous ON journal (previous) WHERE previous IS NOT NULL;
        CREATE TABLE journal_resolved (run_id TEXT PRIMARY KEY, journal TEXT NOT NULL, body TEXT NOT NULL);
      `)
      fillJournalChain(db, folder)
    },
  },
  {
    to: 4,
    what: 'an index that holds all that a search through runs looks at',
    run: (db) => {
      db.exec(`
        ALTER TABLE record ADD COLUMN place TEXT GENERATED ALWAYS AS (json_extract(body, '$.place')) VIRTUAL;
        ALTER TABLE record ADD COLUMN set_aside TEXT GENERATED ALWAYS AS (json_extract(body, '$.setAside.reason')) VIRTUAL;
        CREATE INDEX run_list ON record (id, start_id, in_force_id, workload_id, outcome, place, set_aside) WHERE kind = 'run';
      `)
    },
  },
  {
    to: 5,
    what: 'changes that a page or phone may send twice; devices that were let in; more kinds of records, which older programs do not know',
    run: (db) => {
      db.exec(`
        ALTER TABLE change ADD COLUMN request TEXT;
        ALTER TABLE change ADD COLUMN sent TEXT;
        CREATE UNIQUE INDEX change_by_request ON change (request) WHERE request IS NOT NULL;
        CREATE INDEX change_by_undone ON change (undoes, seq) WHERE undoes IS NOT NULL;
        CREATE TABLE device (id TEXT PRIMARY KEY, name TEXT NOT NULL, token_hash TEXT NOT NULL UNIQUE, made TEXT NOT NULL, seen TEXT, revoked TEXT);
      `)
    },
  },
  {
    to: 6,
    what: 'which device hands a journal over; what companions saw, until it stands beside the start or run that it is about',
    run: (db) => {
      db.exec(`
        ALTER TABLE journal ADD COLUMN device TEXT;
        CREATE TABLE journal_saw (
          journal TEXT NOT NULL, sequence INTEGER NOT NULL, who TEXT NOT NULL, about TEXT, body TEXT NOT NULL, noted INTEGER NOT NULL DEFAULT 0, PRIMARY KEY (journal, sequence));
        CREATE INDEX journal_saw_by_about ON journal_saw (about) WHERE about IS NOT NULL;
        CREATE INDEX journal_saw_to_note ON journal_saw (journal, sequence) WHERE noted = 0;
      `)
    },
  },
]

export const CURRENT_FORMAT = MIGRATIONS.length

const GENERATED: readonly (readonly [column: string, field: string])[] = [
  ['start_id', 'startId'],
  ['in_force_id', 'inForceId'],
  ['workload_id', 'workloadId'],
  ['assembly_id', 'assemblyId'],
  ['part_id', 'partId'],
  ['rig_id', 'rigId'],
  ['mount_id', 'mountId'],
  ['tune_id', 'tuneId'],
  ['base_id', 'baseId'],
  ['outcome', 'outcome'],
]

/** What the new columns say is read from the journals themselves. A file that is gone leaves its row empty; the check then names it. */
function fillJournalChain(db: Database.Database, folder: string): void {
  const update = db.prepare('UPDATE journal SET length = ?, last_hash = ?, previous = ?, rig_id = ?, change = ? WHERE id = ?')
  const resolve = db.prepare('INSERT OR IGNORE INTO journal_resolved (run_id, journal, body) VALUES (?, ?, ?)')
  const rig = db.prepare<[string], { id: string }>(`SELECT id FROM record WHERE kind = 'rig' AND json_extract(body, '$.name') = ?`)
  const change = db.prepare<[string], { seq: number }>('SELECT min(seq) AS seq FROM change_item WHERE id = ?')
  for (const { id, file } of db.prepare<[], { id: string; file: string }>('SELECT id, file FROM journal').all()) {
    let bytes: Uint8Array
    try {
      bytes = readFileSync(path.join(folder, 'journals', file))
    } catch {
      continue
    }
    const { entries } = decodeJournal(bytes)
    const open = entries[0]?.body
    if (open?.type !== 'open') continue
    update.run(bytes.length, entries.at(-1)?.hash ?? '', open.previous?.journal ?? null, rig.get(open.plan.rig)?.id ?? null, change.get(open.startId)?.seq ?? null, id)
    for (const { body } of entries) if (body.type === 'resolved') resolve.run(body.runId, id, JSON.stringify(body))
  }
}
