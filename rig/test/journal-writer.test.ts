// The journal writer's order of writes and syncs, and its silence after a failure.
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { decodeJournal, planHash, type JournalBody, type JournalBodyOf } from '@guardband/model'
import { expect, test } from 'vitest'
import { openJournal, readPlan, type JournalDisk } from '../index.ts'
import { createBench, createSources, planJson, roomyDisk, temporaryFolder } from './kit.ts'

const AT = '2026-11-24T21:07:00.000Z'
const note = (text: string): JournalBody => ({ type: 'note', at: AT, text })

test('every record that acknowledges is followed by a sync before anything else happens', async () => {
  const bench = createBench()
  const calls: string[] = []
  await bench.run({ disk: recordingDisk(calls), heartbeatSeconds: 0.01 })
  const acknowledging = calls.flatMap((call, index) => (/^append .*(open|start|begin|end|close|done|resolved)/.test(call) ? [index] : []))
  expect(acknowledging).toHaveLength(4 * (1 + 1 + 2 * 2 + 1))
  for (const index of acknowledging) expect(`${calls[index]}, then ${calls[index + 1]}`).toBe(`${calls[index]}, then sync`)
  // Heartbeats and notes are the only writes without a sync of their own.
  const others = calls.filter((call, index) => call.startsWith('append') && calls[index + 1] !== 'sync')
  expect(new Set(others)).toEqual(new Set(others.filter((call) => /^append (note|heartbeat)$/.test(call))))
})

test('a journal found at the start of a session is synced before the next one names it', async () => {
  const bench = createBench()
  await bench.run({ disk: failing(3) })
  const calls: string[] = []
  await bench.run({ disk: recordingDisk(calls) })
  expect(calls.slice(0, 2)).toEqual(['settle', 'create'])
})

test('an existing file is never written to', async () => {
  const folder = temporaryFolder()
  const open = openBody()
  const path = join(folder, `${open.journal}.journal`)
  writeFileSync(path, 'what stood here')
  await expect(openJournal({ disk: roomyDisk, folder, open, first: [] })).rejects.toMatchObject({ code: 'journal-failed', sentence: expect.stringContaining('EEXIST') })
  expect(readFileSync(path, 'utf8')).toBe('what stood here')
})

test('after a failure every further write and the close are refused with the first reason, and reach no file', async () => {
  const folder = temporaryFolder()
  const calls: string[] = []
  const disk = recordingDisk(calls, failing(2))
  const writer = await openJournal({ disk, folder, open: openBody(), first: [] })
  await expect(writer.writeSynced(note('one'))).rejects.toMatchObject({ code: 'journal-failed' })
  expect(writer.failed.aborted).toBe(true)
  const before = calls.length
  await expect(writer.write(note('two'))).rejects.toMatchObject({ sentence: expect.stringContaining('the disk is gone') })
  await expect(writer.writeSynced(note('three'))).rejects.toMatchObject({ code: 'journal-failed' })
  await expect(writer.close({ type: 'close', at: AT, reason: 'x' })).rejects.toMatchObject({ code: 'journal-failed' })
  expect(calls.slice(before)).toEqual([])
})

test('records written at the same time stand one after the other in one chain', async () => {
  const folder = temporaryFolder()
  const writer = await openJournal({ disk: roomyDisk, folder, open: openBody(), first: [] })
  await Promise.all(Array.from({ length: 50 }, (_, index) => (index % 3 === 0 ? writer.writeSynced(note(String(index))) : writer.write(note(String(index))))))
  await writer.close({ type: 'close', at: AT, reason: 'x' })
  const { entries, damage } = decodeJournal(readFileSync(writer.path))
  expect(damage).toEqual([])
  expect(entries.flatMap(({ body }) => (body.type === 'note' ? [Number(body.text)] : []))).toEqual(Array.from({ length: 50 }, (_, index) => index))
  expect(writer.lastHash()).toBe(entries[entries.length - 1].hash)
})

function openBody(): JournalBodyOf<'open'> {
  const plan = readPlan(JSON.stringify(planJson()), 'plan.json')
  const { newId } = createSources('boot-1')
  return { type: 'open', at: AT, format: 1, journal: newId(), program: 'test', planHash: planHash(plan), plan, step: 'b1.t1', startId: newId(), startOrder: 0, previous: null, bootId: 'boot-1' }
}

function recordingDisk(calls: string[], disk: JournalDisk = roomyDisk): JournalDisk {
  return {
    ...disk,
    settle: async (path) => {
      calls.push('settle')
      await disk.settle(path)
    },
    create: async (path) => {
      calls.push('create')
      const file = await disk.create(path)
      return {
        append: async (bytes) => {
          const types = Buffer.from(bytes).toString('utf8').trimEnd().split('\n').map((line) => /\{"type":"([a-z ]+)"/.exec(line)?.[1] ?? '?')
          calls.push(`append ${types.join(', ')}`)
          await file.append(bytes)
        },
        sync: async () => {
          calls.push('sync')
          await file.sync()
        },
        close: async () => {
          calls.push('let go')
          await file.close()
        },
      }
    },
  }
}

/** The real disk until its nth sync, which fails, once. */
function failing(nth: number): JournalDisk {
  let syncs = 0
  return {
    ...roomyDisk,
    create: async (path) => {
      const file = await roomyDisk.create(path)
      return {
        ...file,
        sync: async () => {
          if (++syncs === nth) throw new Error('the disk is gone')
          await file.sync()
        },
      }
    },
  }
}
