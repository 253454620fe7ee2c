// A rig's link to its places: what goes over and once only, what comes back, and that no place however false can hold a plan up, change it or run anything.
import { mkdirSync, readFileSync, readdirSync, writeFileSync, appendFileSync } from 'node:fs'
import type { ServerResponse } from 'node:http'
import { join } from 'node:path'
import { describe, expect, it, onTestFinished } from 'vitest'
import { decodeJournal, encodeRecord, FIRST_PREVIOUS, sha256Hex, SYNC_ROUTES, type JournalBody } from '@guardband/model'
import { noLink } from '../link.ts'
import { firstAnswer, nobody } from '../people.ts'
import { createPlaceClient } from '../sync/place-client.ts'
import { pushFolder } from '../sync/push.ts'
import { createRigLink } from '../sync/rig-link.ts'
import type { Place } from '../sync/places.ts'
import { stopAsked } from '../stop-request.ts'
import { createBench, createSources, ONE_START, planJson, readJournals, roomyDisk, shell, SCORE, temporaryFolder, tune } from './kit.ts'
import { startPlayedPlace, startWeakLine, type PlayedPlace } from './played-place.ts'

const SOURCES = createSources('boot-1')
/** Short, so that a place that hangs costs a test no seconds. */
const PATIENCE_MS = 400
const LIVE = { id: 'bench-plan', title: 'Narrow against wide', hash: 'a'.repeat(64) }

function link(folder: string, places: readonly Place[], onStop: () => void = () => undefined, patienceMs = PATIENCE_MS) {
  const said: string[] = []
  const linked = createRigLink({
    clients: places.map((place) => createPlaceClient(place, SOURCES, patienceMs)), rig: 'north bench', plan: LIVE,
    journalFolder: join(folder, 'rig', 'journals'), keptFolder: join(folder, 'rig', 'kept'), disk: roomyDisk, sources: SOURCES, onStop, say: (line) => void said.push(line),
  })
  onTestFinished(() => linked.link.close())
  return { ...linked, said }
}

/** What the rig wrote, by journal. */
function written(rigFolder: string): ReadonlyMap<string, Buffer> {
  const folder = join(rigFolder, 'journals')
  return new Map(readdirSync(folder).map((name) => [name.replace('.journal', ''), readFileSync(join(folder, name))]))
}

const json = (told: unknown) => (reply: ServerResponse) => void reply.writeHead(200, { 'content-type': 'application/json' }).end(JSON.stringify(told))

const given = (answer: string, who = 'phone of the north bench') => ({ answer, who, via: 'phone', at: '2026-11-01T00:00:00Z' })

const asText = (journals: ReadonlyMap<string, Buffer>): readonly string[] => [...journals].map(([id, bytes]) => `${id} ${sha256Hex(bytes)}`).toSorted()

describe('a place that is well', () => {
  it('holds each journal byte for byte at the end, was told each step, and lends its clock', async () => {
    const hub = await startPlayedPlace()
    const bench = createBench()
    const { link: behind, said } = link(bench.folder, [hub.place])
    // Before it no start can say how the clocks stood.
    await expect.poll(() => behind.clock(), { timeout: 20_000 }).not.toBeNull()
    expect((await bench.run({ link: behind })).outcome).toBe('finished')
    expect(asText(hub.journals)).toEqual(asText(written(bench.rigFolder)))
    expect(hub.states.at(-1)).toMatchObject({ rig: 'north bench', state: 'finished', left: 0, step: null })
    expect(hub.states.at(-1)?.done).toBeGreaterThan(8)
    expect(said).toEqual([])
    expect(Math.abs(behind.clock()?.offset ?? Infinity)).toBeLessThan(1)
    expect(behind.clock()?.against).toBe(hub.id)
    const clocks = bench.journals().flatMap((bodies) => bodies.filter(({ type }) => type === 'clock'))
    expect(clocks.at(-1)).toMatchObject({ against: hub.id })
  })

  it('gets whole lines only, from where it stands, and nothing twice', async () => {
    const hub = await startPlayedPlace()
    const bench = createBench(planJson({ design: ONE_START }))
    await bench.run()
    const [[journal, bytes] = ['', Buffer.alloc(0)]] = written(bench.rigFolder)
    const path = join(bench.rigFolder, 'journals', `${journal}.journal`)
    const half = bytes.indexOf('\n', bytes.length / 2) + 1
    writeFileSync(path, bytes.subarray(0, half + 10))
    const push = () => pushFolder(client, roomyDisk, { journalFolder: join(bench.rigFolder, 'journals'), keptFolder: join(bench.rigFolder, 'kept'), sent: new Set() })
    const client = createPlaceClient(hub.place, SOURCES)
    onTestFinished(client.close)
    expect(await push()).toMatchObject({ journals: 1, bytes: half, remarks: [] })
    appendFileSync(path, bytes.subarray(half + 10))
    expect(await push()).toMatchObject({ bytes: bytes.length - half })
    expect(await push()).toMatchObject({ bytes: 0 })
    expect(hub.pieces).toEqual([half, bytes.length - half])
    expect(hub.journals.get(journal)?.equals(bytes)).toBe(true)
  })

  it('gets a journal of megabytes in pieces that end with a line', async () => {
    const hub = await startPlayedPlace()
    const folder = temporaryFolder()
    mkdirSync(join(folder, 'journals'))
    const line = `${'x'.repeat(99_999)}\n`
    const bytes = Buffer.from(`${line.repeat(30)}${'y'.repeat(2_500_000)}\n${line}`)
    writeFileSync(join(folder, 'journals', 'long.journal'), bytes)
    const client = createPlaceClient(hub.place, SOURCES)
    onTestFinished(client.close)
    await pushFolder(client, roomyDisk, { journalFolder: join(folder, 'journals'), keptFolder: join(folder, 'kept'), sent: new Set() })
    expect(hub.pieces).toEqual([1_000_000, 1_000_000, 1_000_000, 2_500_001, 100_000])
    expect(hub.journals.get('long')?.equals(bytes)).toBe(true)
  })

  it('gets what a failed run printed, once, after the journal that names it; a file that is gone is said', async () => {
    const hub = await startPlayedPlace()
    const bench = createBench(planJson({ design: ONE_START, workloads: [{ name: 'photo stack', command: shell('exit 1'), measures: [SCORE] }] }))
    await bench.run()
    const [path, bytes] = [...written(bench.rigFolder)].map(([id, was]) => [join(bench.rigFolder, 'journals', `${id}.journal`), was] as const)[0]
    const printed = Buffer.from('tile 7: wrong sum')
    const [here, gone] = [sha256Hex(printed), sha256Hex(Buffer.from('gone'))]
    let [previous, sequence] = [FIRST_PREVIOUS, 0]
    const lines = decodeJournal(bytes).entries.map(({ body }): Uint8Array => {
      const kept = [here, gone].map((sha256) => ({ what: 'output' as const, sha256, bytes: printed.length }))
      const more: JournalBody = body.type === 'end' ? { ...body, kept } : body
      const line = encodeRecord(sequence, previous, more)
      previous = line.hash
      sequence += 1
      return line.bytes
    })
    writeFileSync(path, Buffer.concat(lines))
    mkdirSync(join(bench.rigFolder, 'kept'))
    writeFileSync(join(bench.rigFolder, 'kept', here), printed)
    const sent = new Set<string>()
    const client = createPlaceClient(hub.place, SOURCES)
    onTestFinished(client.close)
    const push = () => pushFolder(client, roomyDisk, { journalFolder: join(bench.rigFolder, 'journals'), keptFolder: join(bench.rigFolder, 'kept'), sent })
    const first = await push()
    expect([first.kept, first.remarks]).toEqual([1, [expect.stringContaining('is no longer here')]])
    expect((await push()).kept).toBe(0)
    expect(hub.kept).toEqual([here])
  })

  it('that holds other bytes of a journal is left as it is, with a word on it; other journals go on', async () => {
    const hub = await startPlayedPlace()
    const bench = createBench()
    await bench.run()
    const own = written(bench.rigFolder)
    const [[first, bytes] = ['', Buffer.alloc(0)]] = own
    const other = Buffer.from(bytes)
    other[20] ^= 1
    hub.put(first, other)
    const client = createPlaceClient(hub.place, SOURCES)
    onTestFinished(client.close)
    const { remarks, journals } = await pushFolder(client, roomyDisk, { journalFolder: join(bench.rigFolder, 'journals'), keptFolder: join(bench.rigFolder, 'kept'), sent: new Set() })
    expect(remarks).toEqual([expect.stringContaining('this rig was restored or copied')])
    expect(journals).toBe(own.size - 1)
    expect(hub.journals.get(first)).toBe(other)
  })

  it('that was gone at the start and comes back in mid-plan, or after it, lacks nothing', async () => {
    const [early, late] = [await startPlayedPlace(), await startPlayedPlace()]
    await early.close()
    await late.close()
    const bench = createBench()
    const { link: behind, said } = link(bench.folder, [early.place, late.place])
    let mirrored = 0
    const mirror = async (path: string) => {
      mirrored += 1
      if (mirrored === 3) await early.open()
      return behind.mirror(path)
    }
    expect((await bench.run({ link: { ...behind, mirror } })).outcome).toBe('finished')
    expect(asText(early.journals)).toEqual(asText(written(bench.rigFolder)))
    expect(late.journals.size).toBe(0)
    expect(said.filter((line) => line.includes('is not reached'))).toHaveLength(2)
    expect(said.at(-1)).toContain('lacks something of this plan; it is handed over when the plan runs again')
    await late.open()
    expect((await bench.run({ link: link(bench.folder, [late.place]).link })).outcome).toBe('finished')
    expect(asText(late.journals)).toEqual(asText(written(bench.rigFolder)))
  })
})

describe('journals', () => {
  it('go over in the order in which they were written, an earlier session\'s before the next one\'s', async () => {
    const hub = await startPlayedPlace()
    const bench = createBench()
    const stop = new AbortController()
    let mirrors = 0
    await bench.run({ signal: stop.signal, link: { ...noLink, mirror: async () => ((mirrors += 1) === 7 && stop.abort(), 'none') } })
    const before = written(bench.rigFolder).size
    expect((await bench.run({ link: link(bench.folder, [hub.place]).link })).outcome).toBe('finished')
    const all = [...written(bench.rigFolder).keys()]
    expect(all.length).toBeGreaterThan(before)
    expect(before).toBeGreaterThan(1)
    expect([...hub.journals.keys()]).toEqual(all)
    // No piece of an earlier one comes once a later one has begun.
    const order = hub.order.map((journal) => all.indexOf(journal))
    expect(order).toEqual(order.toSorted((a, b) => a - b))
  })
})

describe('a line that is cut in the middle of requests', () => {
  it('holds no plan up, and once it is whole each byte has arrived', { timeout: 60_000 }, async () => {
    const hub = await startPlayedPlace()
    const line = await startWeakLine(Number(new URL(hub.place.origin).port))
    onTestFinished(line.close)
    const bench = createBench(planJson({ design: { tunes: ['narrow', 'wide'], workloads: ['photo stack'], startsPerTune: 4, repeats: 3 } }))
    line.dropAfter = 3000
    const cut = link(bench.folder, [{ ...hub.place, origin: line.url }])
    const { outcome, ends } = await bench.run({ link: cut.link })
    expect([outcome, ends]).toEqual(['finished', [{ outcome: 'scored', runs: 24 }]])
    expect(line.dropped).toBeGreaterThan(1)
    expect(cut.said[0]).toContain('the plan goes on')
    line.dropAfter = Infinity
    await link(bench.folder, [{ ...hub.place, origin: line.url }]).link.close()
    expect(asText(hub.journals)).toEqual(asText(written(bench.rigFolder)))
  })
})

describe('what comes back', () => {
  it('answers the open question only, if it fits it, with a name to it', async () => {
    const hub = await startPlayedPlace()
    const { people } = link(temporaryFolder(), [hub.place])
    let asked = ''
    hub.twist = (request) => {
      const ask = hub.states.at(-1)?.ask ?? null
      if (ask !== null && request.url === SYNC_ROUTES.state.path) {
        asked = ask.id
        hub.wishes = { answers: [{ ask: hub.id, ...given('yes') }, { ask: asked, ...given('maybe') }, { ask: asked, ...given('no', ' ') }, { ask: asked, ...given('yes') }] }
      }
      return false
    }
    const said = await people.ask({ kind: 'choice', step: 'tune narrow', text: 'Is this what is in force?', words: ['yes', 'no'] }, new AbortController().signal)
    expect(said).toEqual({ answer: 'no', who: 'Hollin & Pike', via: 'phone' })
    expect(asked).not.toBe('')
    const value = people.ask({ kind: 'value', step: 'meter', text: 'What does the meter say?', unit: 'W' }, new AbortController().signal)
    hub.twist = () => {
      const ask = hub.states.at(-1)?.ask?.id ?? asked
      hub.wishes = { answers: ['', 'many', 'Infinity', '41.5'].map((answer) => ({ ask, ...given(answer) })) }
      return false
    }
    expect((await value).answer).toBe('41.5')
  })

  it('is taken back where another answers first', async () => {
    const hub = await startPlayedPlace()
    const { people } = link(temporaryFolder(), [hub.place])
    const here = { present: true, ask: async () => ({ answer: '', who: 'bench', via: 'terminal' as const }) }
    expect((await firstAnswer([people, here, nobody]).ask({ kind: 'done', step: 's', text: 'Turn the pump on.' }, new AbortController().signal)).via).toBe('terminal')
    await expect.poll(() => hub.states.at(-1)?.ask, { timeout: 20_000 }).toBeNull()
  })

  it('asks the rig to stop, which ends the plan as a person\'s stop does', async () => {
    const hub = await startPlayedPlace()
    const slow = { name: 'photo stack', command: shell('sleep 0.3; echo "score: 1"'), measures: [SCORE] }
    const bench = createBench(planJson({ workloads: [slow] }))
    let stops = 0
    hub.wishes = { stop: true }
    const { link: behind } = link(bench.folder, [hub.place], () => {
      stops += 1
      // As commands.ts does it.
      writeFileSync(join(bench.rigFolder, 'stop'), '')
    })
    expect((await bench.run({ link: behind })).outcome).toBe('stopped by a person')
    expect(stops).toBe(1)
    expect(stopAsked(bench.rigFolder)).toBe(true)
    expect(hub.states.at(-1)?.state).toBe('stopped')
  })
})

describe('a place that', () => {
  const timers = new Set<NodeJS.Timeout>()
  const drip = (reply: ServerResponse): void => {
    reply.writeHead(200)
    const timer = setInterval(() => reply.write(' '), 50)
    timers.add(timer)
    reply.on('close', () => clearInterval(timer))
  }
  const LIES: Readonly<Record<string, (reply: ServerResponse) => void>> = {
    'answers with what is no JSON': (reply) => void reply.writeHead(200).end('<html>'),
    'answers with bytes that are no text': (reply) => void reply.writeHead(200).end(Buffer.alloc(1000, 0xff)),
    'answers with nested lists beyond any depth': (reply) => void reply.writeHead(200).end('['.repeat(500_000)),
    'answers with what no contract knows': json({ run: ['sh', '-c', 'touch owned'], answers: [{ ask: 'x', run: ['touch', 'owned'] }], stop: 'yes', bytes: -1, sha256: 'x', saw: 5 }),
    'adds a command to a good answer': json({ now: 0, answers: [], stop: false, apply: { run: ['touch', 'owned'] } }),
    'answers with 50 MB': (reply) => void reply.writeHead(200).end(Buffer.alloc(50 * 1024 * 1024, 0x20)),
    'drips': drip,
    'never answers': () => undefined,
    'hangs up': (reply) => void reply.destroy(),
    'refuses with words without end': (reply) => void reply.writeHead(500).end(JSON.stringify({ code: 'x', sentence: 'no \u001b[2J'.repeat(50_000) })),
    'points elsewhere': (reply) => void reply.writeHead(302, { location: 'https://127.0.0.1:1/' }).end(),
    'claims to hold more than there is': json({ bytes: 1e15, sha256: '0'.repeat(64) }),
  }

  it.each(Object.entries(LIES))('%s: the plan runs as it is, and the journals stay the rig\'s own', { timeout: 60_000 }, async (_, lie) => {
    const hub = await startPlayedPlace()
    hub.twist = (_asked, reply) => {
      lie(reply)
      return true
    }
    await expectUnmoved(hub, hub.place)
    for (const timer of timers) clearInterval(timer)
  })

  it('has another certificate is told nothing', async () => {
    const hub = await startPlayedPlace()
    let requests = 0
    hub.twist = () => (requests += 1) < 0
    const said = await expectUnmoved(hub, { ...hub.place, fingerprint: '0'.repeat(64) })
    expect(said[0]).toContain('another certificate than the one that was pinned')
    expect(requests).toBe(0)
  })

  it('no longer lets the rig in is named with what to do', async () => {
    const hub = await startPlayedPlace()
    const said = await expectUnmoved(hub, { ...hub.place, token: 'taken-back' })
    expect(said[0]).toContain('no longer lets this rig in')
    expect(said[0]).toContain('pair the rig anew')
  })

  it('tells of things that a companion saw is heard in few words', async () => {
    const hub = await startPlayedPlace()
    hub.saw = Array.from({ length: 500 }, () => ({ at: '2026-11-01T00:00:00Z', what: 'note', text: 'x'.repeat(1000) }))
    const seen = await link(temporaryFolder(), [hub.place]).link.seen(hub.id)
    expect(seen).toHaveLength(20)
    expect(Math.max(...seen.map(({ text }) => text.length))).toBe(200)
  })
})

async function expectUnmoved(hub: PlayedPlace, place: Place): Promise<readonly string[]> {
  const bench = createBench(planJson({ tunes: [tune('narrow', 1, 'echo 1 > setting; echo apply >> ran'), tune('wide', 2, 'echo 2 > setting; echo apply >> ran')] }))
  const alone = createBench()
  const { link: behind, said } = link(bench.folder, [place])
  const [behindIt, byItself] = [await bench.run({ link: behind }), await alone.run()]
  expect(behindIt.outcome).toBe('finished')
  expect(behindIt.finished).toEqual(byItself.finished)
  expect(behindIt.ends).toEqual(byItself.ends)
  expect(readdirSync(bench.folder).toSorted()).toEqual(['plan.json', 'ran', 'rig', 'setting'])
  expect(readFileSync(join(bench.folder, 'ran'), 'utf8').split('\n').filter((line) => line === 'apply')).toHaveLength(4)
  expect(readJournals(bench.rigFolder).map(({ damage }) => damage)).toEqual(readJournals(alone.rigFolder).map(() => 0))
  expect(bench.journals().flat().filter(({ type }) => type === 'answer')).toEqual([])
  expect(stopAsked(bench.rigFolder)).toBe(false)
  expect(said.length).toBeLessThan(12)
  expect(said.length).toBeGreaterThan(0)
  expect(Math.max(...said.map((line) => line.length))).toBeLessThan(600)
  expect(hub.journals.size).toBe(0)
  return said
}
