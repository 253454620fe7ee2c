// What a second place holds while a plan is still at work, and what it says of a journal that it won't take.
import { appendFileSync, readFileSync, readdirSync } from 'node:fs'
import { basename, join } from 'node:path'
import { expect, onTestFinished, test, vi } from 'vitest'
import { decodeJournal, sha256Hex } from '@guardband/model'
import { sync } from '../sync/commands.ts'
import { createPlaceClient } from '../sync/place-client.ts'
import { pushFolder } from '../sync/push.ts'
import { addPlace, ownPlaces } from '../sync/places.ts'
import { createRigLink } from '../sync/rig-link.ts'
import { createBench, createSources, ONE_START, planJson, quietTerminal, roomyDisk, temporaryFolder, type Bench } from './kit.ts'
import { startPlayedPlace, type PlayedPlace } from './played-place.ts'

const SOURCES = createSources('boot-1')

function linkOf(bench: Bench, hub: PlayedPlace) {
  const said: string[] = []
  const { link } = createRigLink({
    clients: [createPlaceClient(hub.place, SOURCES)], rig: 'north bench', plan: { id: 'bench-plan', title: 'Narrow against wide', hash: 'a'.repeat(64) },
    journalFolder: join(bench.rigFolder, 'journals'), keptFolder: join(bench.rigFolder, 'kept'), disk: roomyDisk, sources: SOURCES, onStop: () => undefined, say: (line) => void said.push(line),
  })
  onTestFinished(() => link.close())
  return { link, said }
}

const typesOf = (bytes: Uint8Array) => decodeJournal(bytes).entries.map(({ body }) => body.type)

test('a start is held to its end as soon as the next one is mirrored, not only when the plan is over', async () => {
  const hub = await startPlayedPlace()
  const bench = createBench(planJson({ design: undefined, base: 'narrow', steps: [
    { id: 'c1', kind: 'change', tune: 'narrow', start: 'live' }, { id: 'r1', kind: 'run', workload: 'photo stack' },
    { id: 'c2', kind: 'change', tune: 'wide', start: 'live' }, { id: 'r2', kind: 'run', workload: 'photo stack' },
  ] }))
  const { link, said } = linkOf(bench, hub)
  const atMirror: (readonly string[])[] = []
  const watched = { ...link, mirror: async (path: string) => {
    const end = await link.mirror(path)
    const others = readdirSync(join(bench.rigFolder, 'journals')).filter((name) => name !== basename(path))
    atMirror.push(others.map((name) => typesOf(hub.journals.get(name.replace('.journal', '')) ?? Buffer.alloc(0)).at(-1) ?? 'none'))
    return end
  } }
  expect((await bench.run({ link: watched })).outcome).toBe('finished')
  expect(atMirror, 'the start at base is mirrored once; the second before its tune and before its run').toEqual([[], ['close'], ['close']])
  expect(said).toEqual([])
})

test('a place that refuses a journal says so at once, once, and the plan goes on', async () => {
  const hub = await startPlayedPlace()
  const bench = createBench()
  const { link, said } = linkOf(bench, hub)
  hub.twist = (asked, reply) => {
    if (asked.url?.includes('/piece') !== true) return false
    reply.writeHead(413, { 'content-type': 'application/json' }).end(JSON.stringify({ code: 'journal-too-long', sentence: 'this place is full.' }))
    return true
  }
  const heard: string[] = []
  const watched = { ...link, mirror: async (path: string) => {
    const end = await link.mirror(path)
    heard.push(`${end}, ${said.filter((line) => line.includes(basename(path))).length} said`)
    return end
  } }
  expect((await bench.run({ link: watched })).outcome).toBe('finished')
  expect(new Set(heard)).toEqual(new Set(['not reached, 1 said']))
  expect(said.filter((line) => line.includes('refused it: this place is full.'))).toHaveLength(4)
})

test('a copy that a person took in with its last line cut short is no other journal', async () => {
  const hub = await startPlayedPlace()
  const bench = createBench(planJson({ design: ONE_START }))
  await bench.run()
  const [name] = readdirSync(join(bench.rigFolder, 'journals'))
  const path = join(bench.rigFolder, 'journals', name)
  appendFileSync(path, '9 0a1b')
  const bytes = readFileSync(path)
  const journal = name.replace('.journal', '')
  hub.put(journal, bytes)
  const client = createPlaceClient(hub.place, SOURCES)
  onTestFinished(client.close)
  const push = () => pushFolder(client, roomyDisk, { journalFolder: join(bench.rigFolder, 'journals'), keptFolder: join(bench.rigFolder, 'kept'), sent: new Set() })
  expect(await push()).toMatchObject({ journals: 1, bytes: 0, remarks: [] })
  expect(sha256Hex(hub.journals.get(journal) ?? Buffer.alloc(0))).toBe(sha256Hex(bytes))
  hub.put(journal, Buffer.concat([bytes, Buffer.from('2')]))
  expect((await push()).remarks, 'one that holds more than there is here is').toEqual([expect.stringContaining('restored or copied')])
})

test('handing over by hand reaches the places that are there, and says which one is not', async () => {
  const [gone, hub] = [await startPlayedPlace(), await startPlayedPlace()]
  await gone.close()
  vi.stubEnv('XDG_CONFIG_HOME', temporaryFolder())
  onTestFinished(() => void vi.unstubAllEnvs())
  for (const { place } of [gone, hub]) addPlace(ownPlaces(), place, SOURCES.newId)
  const bench = createBench(planJson({ design: ONE_START }))
  await bench.run()
  const said: string[] = []
  await expect(sync([bench.rigFolder], quietTerminal(said), SOURCES)).rejects.toMatchObject({ code: 'not-reached', place: gone.place.origin })
  expect(said).toEqual([expect.stringContaining('"Hollin & Pike": 1 journal handed over')])
  expect([...hub.journals.values()].map((bytes) => typesOf(bytes).at(-1))).toEqual(['close'])
})
