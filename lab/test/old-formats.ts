// Databases as earlier formats wrote them, with data in them. The SQL is a copy that never changes with the code under test.
import { mkdirSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import Database from 'better-sqlite3'
import { canonicalJson, sha256Hex, type LabRecord } from '@guardband/model'
import { encodeLines, type OldJournal } from './old-journal.ts'
import { bench, testSources } from './support.ts'

const FORMAT_1 = `
  CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
  CREATE TABLE record (id TEXT PRIMARY KEY, kind TEXT NOT NULL, body TEXT NOT NULL, rev INTEGER NOT NULL);
  CREATE TABLE change (seq INTEGER PRIMARY KEY, at TEXT NOT NULL, who TEXT NOT NULL, what TEXT NOT NULL, why TEXT, undoes INTEGER REFERENCES change (seq));
  CREATE TABLE change_item (seq INTEGER NOT NULL REFERENCES change (seq), place INTEGER NOT NULL, id TEXT NOT NULL, kind TEXT NOT NULL, before TEXT, after TEXT, PRIMARY KEY (seq, place));
  CREATE INDEX change_item_by_record ON change_item (id, seq);
  CREATE TABLE intake_seen (digest TEXT PRIMARY KEY, file TEXT NOT NULL, at TEXT NOT NULL, change INTEGER NOT NULL REFERENCES change (seq));
  CREATE TABLE journal (id TEXT PRIMARY KEY, file TEXT NOT NULL, digest TEXT NOT NULL);
`

const FORMAT_2_MORE = `
  ALTER TABLE record ADD COLUMN start_id TEXT GENERATED ALWAYS AS (json_extract(body, '$.startId')) VIRTUAL;
  ALTER TABLE record ADD COLUMN in_force_id TEXT GENERATED ALWAYS AS (json_extract(body, '$.inForceId')) VIRTUAL;
  ALTER TABLE record ADD COLUMN workload_id TEXT GENERATED ALWAYS AS (json_extract(body, '$.workloadId')) VIRTUAL;
  ALTER TABLE record ADD COLUMN assembly_id TEXT GENERATED ALWAYS AS (json_extract(body, '$.assemblyId')) VIRTUAL;
  ALTER TABLE record ADD COLUMN part_id TEXT GENERATED ALWAYS AS (json_extract(body, '$.partId')) VIRTUAL;
  ALTER TABLE record ADD COLUMN rig_id TEXT GENERATED ALWAYS AS (json_extract(body, '$.rigId')) VIRTUAL;
  ALTER TABLE record ADD COLUMN mount_id TEXT GENERATED ALWAYS AS (json_extract(body, '$.mountId')) VIRTUAL;
  ALTER TABLE record ADD COLUMN tune_id TEXT GENERATED ALWAYS AS (json_extract(body, '$.tuneId')) VIRTUAL;
  ALTER TABLE record ADD COLUMN base_id TEXT GENERATED ALWAYS AS (json_extract(body, '$.baseId')) VIRTUAL;
  ALTER TABLE record ADD COLUMN outcome TEXT GENERATED ALWAYS AS (json_extract(body, '$.outcome')) VIRTUAL;
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
  CREATE TABLE answer_cache (digest TEXT PRIMARY KEY, kind TEXT NOT NULL, answer TEXT NOT NULL, at TEXT NOT NULL, question_id TEXT GENERATED ALWAYS AS (json_extract(answer, '$.question.id')) VIRTUAL);
  CREATE INDEX answer_by_question ON answer_cache (question_id, at);
`

const FORMATS_3_AND_4_MORE = `
  ALTER TABLE journal ADD COLUMN length INTEGER NOT NULL DEFAULT 0;
  ALTER TABLE journal ADD COLUMN last_hash TEXT NOT NULL DEFAULT '';
  ALTER TABLE journal ADD COLUMN previous TEXT;
  ALTER TABLE journal ADD COLUMN rig_id TEXT;
  ALTER TABLE journal ADD COLUMN change INTEGER REFERENCES change (seq);
  CREATE INDEX journal_by_previous ON journal (previous) WHERE previous IS NOT NULL;
  CREATE TABLE journal_resolved (run_id TEXT PRIMARY KEY, journal TEXT NOT NULL, body TEXT NOT NULL);
  ALTER TABLE record ADD COLUMN place TEXT GENERATED ALWAYS AS (json_extract(body, '$.place')) VIRTUAL;
  ALTER TABLE record ADD COLUMN set_aside TEXT GENERATED ALWAYS AS (json_extract(body, '$.setAside.reason')) VIRTUAL;
  CREATE INDEX run_list ON record (id, start_id, in_force_id, workload_id, outcome, place, set_aside) WHERE kind = 'run';
`

export interface OldLab {
  readonly folder: string
  readonly records: readonly LabRecord[]
  readonly journals: readonly OldJournal[]
}

/** A workspace of format 1, 2 or 4 with a bench, runs, a file seen before and two journals, the second of which resolves a run of the first. */
export function buildOldLab(folder: string, format: 1 | 2 | 4): OldLab {
  mkdirSync(path.join(folder, 'journals'), { recursive: true })
  const sources = testSources()
  const { records, start, seats, t65, rig } = bench(sources)
  const lab: LabRecord = { kind: 'lab', id: sources.newId(), name: 'Hollin & Pike', currency: 'EUR', simulated: true }
  const journals = encodeLines(sources.newId, rig.name)
  const [first, held, ...runs] = start(seats[0], t65, [40, 41])
  const booked: LabRecord = { ...first, id: journals[0].startId }
  const all: LabRecord[] = [lab, ...records, booked, { ...held, startId: booked.id }, ...runs.map((run) => ({ ...run, startId: booked.id }))]

  const db = new Database(path.join(folder, 'lab.db'))
  db.pragma('journal_mode = WAL')
  db.exec(FORMAT_1)
  if (format >= 2) db.exec(FORMAT_2_MORE)
  if (format === 4) db.exec(FORMATS_3_AND_4_MORE)
  db.pragma('application_id = 1195527234')
  db.pragma(`user_version = ${format}`)
  db.prepare(`INSERT INTO meta VALUES ('format', ?)`).run(String(format))
  db.prepare(`INSERT INTO change VALUES (1, '2026-11-01T08:00:00.000Z', 'Ada Hollin', 'Made it', NULL, NULL)`).run()
  all.forEach((record, place) => {
    const body = canonicalJson(record)
    db.prepare('INSERT INTO record (id, kind, body, rev) VALUES (?, ?, ?, 1)').run(record.id, record.kind, body)
    db.prepare('INSERT INTO change_item VALUES (1, ?, ?, ?, NULL, ?)').run(place, record.id, record.kind, body)
  })
  db.prepare(`INSERT INTO intake_seen VALUES (?, 'runs.csv', '2026-11-01T08:00:00.000Z', 1)`).run(sha256Hex('seen'))
  for (const journal of journals) {
    writeFileSync(path.join(folder, 'journals', `${journal.id}.journal`), journal.bytes)
    db.prepare('INSERT INTO journal (id, file, digest) VALUES (?, ?, ?)').run(journal.id, `${journal.id}.journal`, sha256Hex(journal.bytes))
  }
  if (format === 4) {
    const chain = db.prepare('UPDATE journal SET length = ?, last_hash = ?, previous = ?, rig_id = ?, change = ? WHERE id = ?')
    journals.forEach((journal, place) => {
      chain.run(journal.bytes.length, journal.lastHash, place === 0 ? null : journals[0].id, rig.id, place === 0 ? 1 : null, journal.id)
    })
  }
  db.close()
  return { folder, records: all, journals }
}
