// Backups of workspaces that are open, written to, damaged, or in the way.
import { spawnSync } from 'node:child_process'
import { appendFileSync, chmodSync, chownSync, existsSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import path from 'node:path'
import { Readable } from 'node:stream'
import { setTimeout as wait } from 'node:timers/promises'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { keepStream } from '../index.ts'
import { copied, opened, taken } from './moving-support.ts'
import { adding, BY, folderState, temporaryFolder, testSources } from './support.ts'

describe('a backup', () => {
  it('is a workspace of its own with the same digest, history and files, and the workspace knows of it', async () => {
    const { lab, digest } = copied()
    expect(lab.moving.lastBackup()).toBeNull()
    const made = await lab.moving.backup()
    expect(made).toMatchObject({ digest, head: lab.head(), findings: [] })
    expect(path.dirname(made.folder)).toBe(`${lab.folder}-backups`)
    expect(lab.moving.lastBackup()).toEqual({ at: made.at, folder: made.folder })
    const copy = opened(made.folder)
    expect(copy.moving.digest()).toBe(digest)
    expect(copy.changes({ count: 99 })).toEqual(lab.changes({ count: 99 }))
    expect(copy.check()).toEqual([])
    const again = await lab.moving.backup()
    expect(again.folder).not.toBe(made.folder)
  })

  it('of a workspace that is being written to holds one moment of it', async () => {
    const { lab } = copied()
    const { newId } = testSources({}, 9)
    let writing = true
    const writes = (async () => {
      for (let at = 0; writing; at++) {
        lab.apply({ ...BY, items: adding({ kind: 'rig', id: newId(), name: `rig ${at}` }) })
        await lab.evidence.keep({ request: newId(), who: 'Ada', name: `${at}.txt`, mediaType: 'text/plain', about: [lab.list('rig')[0].id], thumbnailBytes: 0, limit: 100, pieces: Readable.from([Buffer.from(`file ${at}`)]) })
        // As fast as people and rigs together; every piece of it is looked at again below.
        await wait(WRITING_PAUSE_MS)
      }
    })()
    const backups = []
    for (let at = 0; at < 3; at++) backups.push(await lab.moving.backup())
    const archive = path.join(temporaryFolder(), 'meanwhile.zip')
    await keepStream(await lab.moving.export('archive'), archive)
    writing = false
    await writes
    expect(new Set(backups.map(({ head }) => head)).size).toBeGreaterThan(1)
    for (const { folder, digest, head, findings } of backups) {
      const copy = opened(folder)
      expect([copy.head(), copy.moving.digest(), findings]).toEqual([head, digest, []])
      expect(copy.check()).toEqual([])
    }
    expect(opened((await taken(archive)).folder).check()).toEqual([])
  })

  it('takes of a journal that grew meanwhile what its records know of it', async () => {
    const { lab } = copied()
    const [name] = readdirSync(path.join(lab.folder, 'journals'))
    appendFileSync(path.join(lab.folder, 'journals', name), 'a line that came after\n')
    const made = await lab.moving.backup()
    expect(made.findings).toEqual([])
    expect(opened(made.folder).check()).toEqual([])
  })

  it('never writes over anything, into itself, or where it may not', async () => {
    const { lab } = copied()
    const before = folderState(lab.folder)['lab.db']
    await expect(lab.moving.backup(path.join(lab.folder, 'backup'))).rejects.toThrow('must lie outside')
    await expect(lab.moving.backup(lab.folder)).rejects.toThrow('must lie outside')
    const full = temporaryFolder()
    writeFileSync(path.join(full, 'mine'), 'x')
    await expect(lab.moving.backup(full)).rejects.toThrow('this folder holds other files')
    await expect(lab.moving.backup(path.join(full, 'mine', 'x'))).rejects.toThrow('a file stands where a folder would have to be')
    expect(readdirSync(full)).toEqual(['mine'])
    expect(lab.moving.lastBackup()).toBeNull()
    expect(folderState(lab.folder)['lab.db']).toBe(before)
  })

  // Root may write everywhere, so the process becomes another user first.
  it.skipIf(process.platform === 'win32')('into a read-only folder says so, and leaves nothing', async () => {
    const { lab } = copied()
    await lab.close()
    const locked = temporaryFolder()
    chmodSync(locked, 0o555)
    if (process.getuid?.() === 0) for (const name of ['', ...readdirSync(path.dirname(lab.folder), { recursive: true, encoding: 'utf8' })]) chownSync(path.join(path.dirname(lab.folder), name), NOBODY, NOBODY)
    const child = spawnSync(process.execPath, [path.join(import.meta.dirname, 'children', 'back-up-as.ts'), String(NOBODY), lab.folder, path.join(locked, 'b')], { encoding: 'utf8' })
    expect([child.stderr, child.stdout]).toEqual(['', `${path.join(locked, 'b')}: the folder can not be made: you have no right to write there. Choose a folder that you may write to, on a local disk with room.\n`])
    expect(readdirSync(locked)).toEqual([])
  })

  it('follows no link out of the workspace, and says what the check would', async () => {
    const { lab } = copied()
    const secret = path.join(temporaryFolder(), 'secret')
    writeFileSync(secret, 'secret')
    const [picture] = lab.list('evidence')
    rmSync(path.join(lab.folder, 'evidence', picture.sha256))
    symlinkSync(secret, path.join(lab.folder, 'evidence', picture.sha256))
    const made = await lab.moving.backup()
    expect(made.findings.map(({ sentence }) => sentence)).toEqual(['The file of evidence "paste.jpg" is gone. Put it back from a copy.'])
    expect(existsSync(path.join(made.folder, 'evidence', picture.sha256))).toBe(false)
  })

  it('of a damaged database is refused and leaves nothing', async () => {
    const { lab } = copied()
    await lab.close()
    const file = path.join(lab.folder, 'lab.db')
    const db = new Database(file)
    const { rootpage } = db.prepare<[], { rootpage: number }>("SELECT rootpage FROM sqlite_master WHERE name = 'answer_by_question'").get() ?? { rootpage: 0 }
    const size = Number(db.pragma('page_size', { simple: true }))
    db.close()
    writeFileSync(file, readFileSync(file).fill(0xff, (rootpage - 1) * size, rootpage * size))
    const damaged = opened(lab.folder)
    const target = path.join(temporaryFolder(), 'b')
    await expect(damaged.moving.backup(target)).rejects.toThrow('damaged')
    expect(readdirSync(path.dirname(target))).toEqual([])
  })
})

const WRITING_PAUSE_MS = 10
/** By custom the user who owns nothing. */
const NOBODY = 65_534
