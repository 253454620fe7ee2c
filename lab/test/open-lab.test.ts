import { spawn, spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { SpokenError } from '@guardband/model'
import { createLab, isLab, openLab, takeHubLock } from '../index.ts'
import { requireDurable } from '../store/database.ts'
import { speakDatabaseErrors } from '../store/speak-database-errors.ts'
import { adding, bench, BY, newLab, reopen, temporaryFolder, testSources, track } from './support.ts'

function spoken(work: () => unknown): string {
  try {
    work()
  } catch (error) {
    if (error instanceof SpokenError) return error.sentence
    throw error
  }
  return 'nothing was thrown'
}

const NEW = { name: 'Hollin & Pike', currency: 'EUR' }

describe('making a workspace', () => {
  it('lays out database, journals and reports, and leaves nothing beside the folder', () => {
    const parent = temporaryFolder()
    const lab = track(createLab(path.join(parent, 'deep', 'my lab'), NEW, testSources()))
    expect(readdirSync(lab.folder).filter((name) => !name.startsWith('lab.db-')).toSorted()).toEqual(['journals', 'lab.db', 'reports'])
    expect(readdirSync(path.join(parent, 'deep'))).toEqual(['my lab'])
    expect(lab.info()).toMatchObject({ lab: { name: 'Hollin & Pike', currency: 'EUR', simulated: false }, head: 1, counts: { runs: 0, parts: 0 } })
  })

  it('takes an empty folder, and puts first records in as a change of their own', () => {
    const folder = temporaryFolder()
    const sources = testSources()
    const { records } = bench(sources)
    const lab = track(createLab(folder, { ...NEW, simulated: true, records }, sources))
    expect(lab.head()).toBe(2)
    expect(lab.info().counts).toMatchObject({ parts: 2, samples: 3, tunes: 2, rigs: 1 })
    lab.undo(2, BY)
    expect(lab.info().counts.parts).toBe(0)
  })

  it('refuses a folder with other files, and one that is a workspace already', () => {
    const folder = temporaryFolder()
    writeFileSync(path.join(folder, 'holiday.txt'), 'x')
    expect(spoken(() => createLab(folder, NEW, testSources()))).toBe(`${folder}: this folder holds other files. Choose an empty folder, or one that does not exist yet.`)
    expect(readdirSync(folder)).toEqual(['holiday.txt'])
    const lab = newLab()
    expect(spoken(() => createLab(lab.folder, NEW, testSources()))).toBe(`${lab.folder}: there is a workspace in this folder already. Open it, or choose another folder.`)
  })

  it('leaves nothing behind when its first records are refused', () => {
    const parent = temporaryFolder()
    const folder = path.join(parent, 'lab')
    const sources = testSources()
    const { a1 } = bench(sources)
    expect(spoken(() => createLab(folder, { ...NEW, records: [a1] }, sources))).toContain('which the workspace does not hold')
    expect(readdirSync(parent)).toEqual([])
  })
})

describe('opening a workspace', () => {
  it('refuses a folder without one, and a database that is another program’s', () => {
    const folder = temporaryFolder()
    expect(spoken(() => openLab(folder, testSources()))).toBe(`${folder}: there is no workspace in this folder. Make one, or choose another folder.`)
    const foreign = new Database(path.join(folder, 'lab.db'))
    foreign.exec('CREATE TABLE other (x)')
    foreign.close()
    expect(isLab(folder)).toBe(false)
    expect(spoken(() => openLab(folder, testSources()))).toBe(`${folder}: lab.db is not the database of a workspace. Choose the folder of a workspace, or an empty one.`)
    writeFileSync(path.join(folder, 'lab.db'), 'not a database')
    expect(isLab(folder)).toBe(false)
  })

  it('says in a sentence when the disk is full, the database is damaged, or another program keeps it locked', async () => {
    const file = path.join(temporaryFolder(), 'x.db')
    const db = new Database(file, { timeout: 1 })
    db.exec('PRAGMA max_page_count = 3; CREATE TABLE t (x)')
    expect(spoken(() => speakDatabaseErrors('/bench', () => db.prepare('INSERT INTO t VALUES (zeroblob(100000))').run()))).toBe(
      '/bench: the disk is full; nothing of this change was written. Make room and repeat it.',
    )
    const other = new Database(file, { timeout: 1 })
    other.exec('BEGIN IMMEDIATE')
    expect(spoken(() => speakDatabaseErrors('/bench', () => db.prepare('INSERT INTO t VALUES (1)').run()))).toContain('another program kept the workspace locked')
    other.close()
    db.close()

    const lab = newLab()
    await lab.close()
    const bytes = readFileSync(path.join(lab.folder, 'lab.db'))
    bytes.fill(0xff, 4096)
    writeFileSync(path.join(lab.folder, 'lab.db'), bytes)
    expect(spoken(() => openLab(lab.folder, testSources()))).toBe(`${lab.folder}: lab.db is damaged. Restore a copy of the workspace, or rebuild it: make a new one and take in the journals/ folder and the CSV files again.`)
  })

  it('refuses a connection that would not sync its commits', () => {
    const db = new Database(path.join(temporaryFolder(), 'x.db'))
    db.pragma('journal_mode = WAL')
    db.pragma('synchronous = NORMAL')
    db.exec('CREATE TABLE t (x)')
    expect(spoken(() => requireDurable(db, '/bench'))).toBe(
      '/bench: the database must sync every commit in WAL mode; got synchronous 1, journal mode wal. Keep the workspace on a local disk, not on a network share.',
    )
    db.pragma('synchronous = FULL')
    expect(spoken(() => requireDurable(db, '/bench'))).toBe('nothing was thrown')
    db.pragma('journal_mode = DELETE')
    expect(spoken(() => requireDurable(db, '/bench'))).toContain('journal mode delete')
    db.close()
  })
})

describe('two processes', () => {
  it('write to one workspace at once: nothing is lost, each sees the other’s changes', async () => {
    const sources = testSources()
    const lab = newLab(sources)
    const child = path.join(import.meta.dirname, 'children', 'write-parts.ts')
    const writers = ['a', 'b'].map((name) => spawn(process.execPath, [child, lab.folder, name, '60'], { stdio: ['ignore', 'pipe', 'inherit'] }))
    const heads: number[] = []
    for (let index = 0; index < 20; index++) {
      heads.push(lab.apply({ ...BY, items: adding({ kind: 'rig', id: sources.newId(), name: `rig ${index}` }) }))
      await new Promise((resolve) => setTimeout(resolve, 5))
    }
    const codes = await Promise.all(writers.map((writer) => new Promise((resolve) => writer.on('close', resolve))))
    expect(codes).toEqual([0, 0])
    expect(lab.list('part').map(({ name }) => name).toSorted()).toEqual(['a', 'b'].flatMap((name) => Array.from({ length: 60 }, (_, index) => `${name} ${String(index).padStart(3, '0')}`)))
    expect(lab.head()).toBe(1 + 120 + 20)
    expect(lab.parts().length).toBe(120)
    expect(lab.check()).toEqual([])
  })
})

describe('the hub lock', () => {
  it('is held by one process and free again after release', () => {
    const folder = temporaryFolder()
    const lock = takeHubLock(folder)
    expect(spoken(() => takeHubLock(folder))).toBe(`${folder}: another hub has this workspace open (process ${process.pid}). Use that one, or end it first.`)
    lock.release()
    takeHubLock(folder).release()
    expect(readdirSync(folder)).toEqual([])
  })

  it('of a process that is gone, of another boot, or of a later process with the same number is no lock', () => {
    const folder = temporaryFolder()
    const file = path.join(folder, 'hub.lock')
    const gone = spawnSync(process.execPath, ['-e', '']).pid
    const stale = [JSON.stringify({ pid: gone, boot: '', started: '' }), JSON.stringify({ pid: process.pid, boot: 'another boot', started: '' }), JSON.stringify({ pid: process.pid, boot: '', started: '1' }), 'torn']
    for (const text of stale) {
      writeFileSync(file, text)
      takeHubLock(folder).release()
      expect(existsSync(file)).toBe(false)
    }
  })

  it('does not release a lock that another process has taken since', () => {
    const folder = temporaryFolder()
    const lock = takeHubLock(folder)
    writeFileSync(path.join(folder, 'hub.lock'), 'another’s')
    lock.release()
    expect(existsSync(path.join(folder, 'hub.lock'))).toBe(true)
  })
})

describe('a folder of a workspace', () => {
  it('may hold files of others beside it without harm', async () => {
    const lab = newLab()
    mkdirSync(path.join(lab.folder, 'notes'))
    await lab.close()
    expect(reopen(lab.folder).check()).toEqual([])
  })
})
