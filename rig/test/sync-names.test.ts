// Small files that a rig goes by after a crash: what is made or removed is synced, and so is the name.
import { readFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import { expect, test, vi } from 'vitest'
import { askPowerOn, powerOnSeen, useUpPowerOn } from '../power-on.ts'
import { askToStop, forgetStop, stopAsked } from '../stop-request.ts'
import { temporaryFolder } from './kit.ts'

const watched = vi.hoisted(() => ({ opened: new Map<number, string>(), calls: [] as string[] }))
vi.mock('node:fs', async (original) => {
  const real = await original<typeof import('node:fs')>()
  return {
    ...real,
    openSync: (path: string, flags: string) => {
      const handle = real.openSync(path, flags)
      watched.opened.set(handle, path)
      return handle
    },
    fsyncSync: (handle: number) => {
      real.fsyncSync(handle)
      watched.calls.push(`sync ${basename(watched.opened.get(handle) ?? '?')}`)
    },
    rmSync: (path: string, options: object) => {
      real.rmSync(path, options)
      watched.calls.push(`remove ${basename(path)}`)
    },
    renameSync: (from: string, to: string) => {
      real.renameSync(from, to)
      watched.calls.push(`rename to ${basename(to)}`)
    },
  }
})

function callsOf(work: () => unknown): readonly string[] {
  watched.calls.length = 0
  work()
  return [...watched.calls]
}

test('a wish to stop outlives a power cut right after it, and so does its end', () => {
  const folder = temporaryFolder()
  expect(callsOf(() => askToStop(folder))).toEqual(['sync stop', `sync ${basename(folder)}`])
  expect(stopAsked(folder)).toBe(true)
  expect(callsOf(() => forgetStop(folder))).toEqual(['remove stop', `sync ${basename(folder)}`])
  expect(stopAsked(folder)).toBe(false)
  expect(callsOf(() => forgetStop(folder)), 'where there was none').toEqual([])
})

test('a power-on that was asked for is on the disk before anybody is asked, and one that was used up does not come again', () => {
  const folder = temporaryFolder()
  const change = { kind: 'change', id: 'c1', planStep: 'c1', tune: 'narrow', start: 'cold' } as const
  const sources = { rigFolder: folder, bootId: 'boot-1', newId: () => 'draft' }
  expect(callsOf(() => expect(() => askPowerOn(change, true, sources)).toThrow('power the machine off'))).toEqual(['sync power-on.json.draft', 'rename to power-on.json', `sync ${basename(folder)}`])
  expect(JSON.parse(readFileSync(join(folder, 'power-on.json'), 'utf8'))).toEqual({ step: 'c1', bootId: 'boot-1' })
  const next = { ...sources, bootId: 'boot-2' }
  expect(powerOnSeen(change, next)).toBe(true)
  expect(callsOf(() => useUpPowerOn(next))).toEqual(['remove power-on.json', `sync ${basename(folder)}`])
  expect(powerOnSeen(change, next)).toBe(false)
})
