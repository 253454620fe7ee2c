// The port over this machine's own disk: which names it syncs, and what becomes of a journal when a disk really is full.
import { execFileSync } from 'node:child_process'
import { readFileSync, truncateSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { expect, onTestFinished, test, vi } from 'vitest'
import { decodeJournal, planHash, type JournalBodyOf } from '@guardband/model'
import { FREE_BYTES_FLOOR, openJournal } from '../journal-writer.ts'
import { journalFolderOf, nodeDisk, readPlan } from '../index.ts'
import { createBench, createSources, ONE_START, planJson, temporaryFolder } from './kit.ts'

const watched = vi.hoisted(() => ({ synced: [] as string[] }))
vi.mock('node:fs/promises', async (original) => {
  const real = await original<typeof import('node:fs/promises')>()
  return {
    ...real,
    open: async (path: string, ...more: readonly never[]) => {
      const handle = await real.open(path, ...more)
      const sync = handle.sync.bind(handle)
      handle.sync = async () => {
        await sync()
        watched.synced.push(path)
      }
      return handle
    },
  }
})

const AT = '2026-11-01T00:00:00Z'

test('the names of all folders on the way to a journal are on the disk before its first record, whoever made them', async () => {
  const bench = createBench(planJson({ design: ONE_START }))
  watched.synced.length = 0
  await bench.run()
  expect(watched.synced).toEqual(expect.arrayContaining([journalFolderOf(bench.rigFolder), bench.rigFolder, bench.folder, dirname(bench.folder)]))
  expect(watched.synced.indexOf(bench.folder), 'the folder of the rig, which its lock made').toBeLessThan(watched.synced.indexOf(journalFolderOf(bench.rigFolder)))
  watched.synced.length = 0
  await nodeDisk.makeFolder(journalFolderOf(bench.rigFolder))
  expect(watched.synced, 'a folder that stands there already').toEqual(expect.arrayContaining([bench.rigFolder, bench.folder]))
})

test('on a disk that is full in the middle of a record nothing more is written, and what was acknowledged is read', async ({ skip }) => {
  const folder = smallDisk('1m') ?? skip('only root can mount a small disk')
  const writer = await openJournal({ disk: { ...nodeDisk, freeBytes: async () => 1e12 }, folder, open: openBody(), first: [] })
  let acknowledged = 1
  const note: JournalBodyOf<'note'> = { type: 'note', at: AT, text: 'x'.repeat(3000) }
  const fill = async (): Promise<never> => {
    for (;;) {
      await writer.writeSynced(note)
      acknowledged += 1
    }
  }
  await expect(fill()).rejects.toMatchObject({ code: 'journal-failed' })
  const left = readFileSync(writer.path)
  expect(acknowledged).toBeGreaterThan(200)
  expect(decodeJournal(left).entries).toHaveLength(acknowledged)
  expect(decodeJournal(left).damage).toEqual([])
  truncateSync(join(folder, 'filler'), 0)
  await expect(writer.writeSynced(note), 'room is there again, and the file stays as it is').rejects.toMatchObject({ code: 'journal-failed' })
  await writer.abandon()
  expect(readFileSync(writer.path).equals(left)).toBe(true)
})

test('no step begins on a disk that really has too little room left', async ({ skip }) => {
  const folder = smallDisk('66m') ?? skip('only root can mount a small disk')
  const writer = await openJournal({ disk: nodeDisk, folder, open: openBody(), first: [] })
  onTestFinished(writer.abandon)
  await writer.reserve()
  writeFileSync(join(folder, 'of somebody else'), Buffer.alloc(3 * 1024 * 1024))
  await expect(writer.reserve()).rejects.toMatchObject({ code: 'disk-full' })
  expect(await nodeDisk.freeBytes(folder)).toBeLessThan(FREE_BYTES_FLOOR)
  await expect(openJournal({ disk: nodeDisk, folder, open: openBody(), first: [] })).rejects.toMatchObject({ code: 'disk-full' })
})

/** Null where this user may not mount one. */
function smallDisk(size: string): string | null {
  if (process.platform !== 'linux' || process.getuid?.() !== 0) return null
  const folder = temporaryFolder()
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', `size=${size}`, 'tmpfs', folder], { stdio: 'pipe' })
  } catch {
    return null
  }
  onTestFinished(() => void execFileSync('umount', ['-l', folder], { stdio: 'pipe' }))
  writeFileSync(join(folder, 'filler'), Buffer.alloc(64 * 1024))
  return folder
}

function openBody(): JournalBodyOf<'open'> {
  const plan = readPlan(JSON.stringify(planJson()), 'plan.json')
  const { newId } = createSources('boot-1')
  return { type: 'open', at: AT, format: 1, journal: newId(), program: 'test', planHash: planHash(plan), plan, step: 'b1.t1', startId: newId(), startOrder: 0, previous: null, bootId: 'boot-1' }
}
