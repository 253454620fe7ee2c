import { copyFileSync, mkdirSync } from 'node:fs'
import path from 'node:path'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { SpokenError } from '@guardband/model'
import { isLab, openLab } from '../index.ts'
import { CURRENT_FORMAT, MIGRATIONS } from '../store/migrations.ts'
import { formatOf, migrate } from '../store/database.ts'
import { buildOldLab } from './old-formats.ts'
import { BY, folderState, newLab, reopen, temporaryFolder, testSources } from './support.ts'

/** Every step up to the current format must be exercised below; this fails when one is added without. */
const EXERCISED = [1, 2, 3, 4, 5, 6]

describe('migrations', () => {
  it('are numbered without gaps and each is exercised here', () => {
    expect(MIGRATIONS.map(({ to }) => to)).toEqual(EXERCISED)
    expect(CURRENT_FORMAT).toBe(EXERCISED.length)
  })

  it('step 1 makes a new workspace that carries its mark and its number in the header', () => {
    const lab = newLab()
    expect(isLab(lab.folder)).toBe(true)
    const db = new Database(path.join(lab.folder, 'lab.db'), { readonly: true })
    expect(formatOf(db)).toBe(CURRENT_FORMAT)
    expect(db.pragma('user_version', { simple: true })).toBe(CURRENT_FORMAT)
    db.close()
  })

  it('step 2 gives a format 1 database its columns, indexes and answers, and leaves every record as it was', () => {
    const old = buildOldLab(path.join(temporaryFolder(), 'lab'), 1)
    const db = new Database(path.join(old.folder, 'lab.db'))
    migrate(db, old.folder, 2)
    expect(formatOf(db)).toBe(2)
    expect(db.prepare('SELECT count(*) AS n FROM record').get()).toEqual({ n: old.records.length })
    const counted = db.prepare(`SELECT start_id AS start, count(*) AS n FROM record WHERE kind = 'run' GROUP BY start_id`).all()
    expect(counted).toEqual([{ start: old.journals[0].startId, n: 2 }])
    const plan = db.prepare(`EXPLAIN QUERY PLAN SELECT count(*) FROM record WHERE kind = 'run' GROUP BY start_id`).all() as { detail: string }[]
    expect(plan.map(({ detail }) => detail).join()).toContain('USING INDEX record_by_start')
    expect(db.prepare('SELECT count(*) AS n FROM answer_cache').get()).toEqual({ n: 0 })
    db.close()
  })

  it('step 3 reads the chain of the journals that a format 2 workspace kept', () => {
    const old = buildOldLab(path.join(temporaryFolder(), 'lab'), 2)
    const db = new Database(path.join(old.folder, 'lab.db'))
    migrate(db, old.folder, 3)
    const rows = db.prepare('SELECT id, length, last_hash, previous, change FROM journal ORDER BY previous IS NOT NULL').all()
    expect(rows).toEqual([
      { id: old.journals[0].id, length: old.journals[0].bytes.length, last_hash: old.journals[0].lastHash, previous: null, change: 1 },
      { id: old.journals[1].id, length: old.journals[1].bytes.length, last_hash: old.journals[1].lastHash, previous: old.journals[0].id, change: null },
    ])
    expect(db.prepare('SELECT run_id, journal FROM journal_resolved').all()).toEqual([{ run_id: old.journals[1].resolves, journal: old.journals[1].id }])
    db.close()
  })

  it('step 4 lets the runs of an older workspace be searched through one index', () => {
    const old = buildOldLab(path.join(temporaryFolder(), 'lab'), 2)
    const db = new Database(path.join(old.folder, 'lab.db'))
    migrate(db, old.folder, 3)
    migrate(db, old.folder, 4)
    const found = db.prepare<[], { id: string }>(`SELECT id, start_id, place, set_aside FROM record INDEXED BY run_list WHERE kind = 'run' ORDER BY id`).all()
    const runs = old.records.filter(({ kind }) => kind === 'run').map(({ id }) => ({ id, start_id: old.journals[0].startId, place: null, set_aside: null }))
    expect(found).toEqual(runs.toSorted((a, b) => (a.id < b.id ? -1 : 1)))
    expect(runs).toHaveLength(2)
    db.close()
  })

  it('step 5 keeps every record and change of a format 4 workspace, and holds each request once', () => {
    const old = buildOldLab(path.join(temporaryFolder(), 'lab'), 4)
    const db = new Database(path.join(old.folder, 'lab.db'))
    const before = everything(db)
    migrate(db, old.folder, 5)
    expect(formatOf(db)).toBe(5)
    expect(everything(db)).toEqual(before)
    expect(db.prepare('SELECT count(*) AS n FROM device').get()).toEqual({ n: 0 })
    const add = db.prepare(`INSERT INTO change (seq, at, who, what, request) VALUES (?, '2026-11-02T08:00:00.000Z', 'Ada Hollin', 'Sent', ?)`)
    add.run(2, 'one')
    expect(() => add.run(3, 'one')).toThrow(/UNIQUE constraint failed: change.request/)
    add.run(3, null)
    add.run(4, null)
    db.close()
  })

  it('step 6 leaves the journals of a format 4 workspace with no device, and what a companion saw is kept once', () => {
    const old = buildOldLab(path.join(temporaryFolder(), 'lab'), 4)
    const db = new Database(path.join(old.folder, 'lab.db'))
    migrate(db, old.folder, 6)
    expect(formatOf(db)).toBe(6)
    expect(db.prepare('SELECT id, device FROM journal ORDER BY id').all()).toEqual(old.journals.map(({ id }) => ({ id, device: null })).toSorted((a, b) => (a.id < b.id ? -1 : 1)))
    const add = db.prepare(`INSERT INTO journal_saw (journal, sequence, who, body) VALUES ('one', 1, 'companion', '{}')`)
    add.run()
    expect(() => add.run()).toThrow(/UNIQUE constraint failed: journal_saw/)
    expect(db.prepare('SELECT noted, about FROM journal_saw').all()).toEqual([{ noted: 0, about: null }])
    db.close()
  })

  it.each([1, 2, 4] as const)('a workspace of format %i opens with all its records, checks clean and takes changes', (format) => {
    const old = buildOldLab(path.join(temporaryFolder(), 'lab'), format)
    const lab = reopen(old.folder)
    expect(old.records.map(({ id }) => lab.get(id))).toEqual(old.records)
    expect(lab.rigs()[0]).toMatchObject({ journals: 2, starts: 1 })
    expect(lab.check()).toEqual([])
    const part = lab.list('part')[0]
    expect(lab.apply({ ...BY, items: [{ before: part, after: { ...part, name: 'Quillon 15' } }] })).toBe(2)
  })
})

describe('a workspace of a newer format', () => {
  const NEWER = `this workspace is in format ${CURRENT_FORMAT + 96}; this program knows formats up to ${CURRENT_FORMAT}. Nothing in it was changed. Open it with the newer program that wrote it.`

  it('is refused with a sentence, and no byte of its folder changes', async () => {
    const lab = newLab()
    await lab.close()
    makeNewer(lab.folder)
    const before = folderState(lab.folder)
    expect(spoken(() => openLab(lab.folder, testSources()))).toBe(`${lab.folder}: ${NEWER}`)
    expect(folderState(lab.folder)).toEqual(before)
    expect(isLab(lab.folder)).toBe(true)
  })

  it('is refused also while its number stands only in the log that was not folded in', async () => {
    const lab = newLab()
    await lab.close()
    const db = new Database(path.join(lab.folder, 'lab.db'))
    db.prepare(`UPDATE meta SET value = ? WHERE key = 'format'`).run(String(CURRENT_FORMAT + 96))
    // As a killed process leaves it: the log beside a main file that still carries the old number.
    const crashed = path.join(temporaryFolder(), 'crashed')
    mkdirSync(crashed)
    for (const name of ['lab.db', 'lab.db-wal']) copyFileSync(path.join(lab.folder, name), path.join(crashed, name))
    db.close()
    const before = folderState(crashed)
    expect(spoken(() => openLab(crashed, testSources()))).toBe(`${crashed}: ${NEWER}`)
    const after = folderState(crashed)
    expect({ 'lab.db': after['lab.db'], 'lab.db-wal': after['lab.db-wal'] }).toEqual({ 'lab.db': before['lab.db'], 'lab.db-wal': before['lab.db-wal'] })
  })
})

/** What format 4 knows of, row by row. */
function everything(db: Database.Database): unknown {
  return ['SELECT id, kind, body, rev FROM record ORDER BY id', 'SELECT seq, at, who, what, why, undoes FROM change ORDER BY seq', 'SELECT * FROM change_item ORDER BY seq, place', 'SELECT * FROM journal ORDER BY id', 'SELECT * FROM intake_seen'].map(
    (sql) => db.prepare(sql).all(),
  )
}

function makeNewer(folder: string): void {
  const db = new Database(path.join(folder, 'lab.db'))
  db.prepare(`UPDATE meta SET value = ? WHERE key = 'format'`).run(String(CURRENT_FORMAT + 96))
  db.pragma(`user_version = ${CURRENT_FORMAT + 96}`)
  db.close()
}

function spoken(work: () => unknown): string {
  try {
    work()
  } catch (error) {
    if (error instanceof SpokenError) return error.sentence
    throw error
  }
  return 'nothing was thrown'
}
