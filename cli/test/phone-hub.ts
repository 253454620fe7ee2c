// Run as a process of its own: serves the workspace in a folder, making it where there is none, with the second listener on, and does what lines on its input ask for. Not a test by itself.
import { createInterface } from 'node:readline'
import { join } from 'node:path'
import { startHub } from '@guardband/hub'
import { createLab, isLab, openLab, type Lab, type LabSources } from '@guardband/lab'
import { createIdFactory, type LabRecord, type Sheet } from '@guardband/model'

const [, , folder, webFolder, port, starts] = process.argv
const fillRandom = (bytes: Uint8Array): void => void crypto.getRandomValues(bytes)
const sources: LabSources = { now: () => Date.now(), newId: createIdFactory({ now: () => Date.now(), fillRandom }) }
const lab = isLab(folder) ? openLab(folder, sources) : makeLab()
const hub = await startHub({
  lab, host: '127.0.0.1', port: 0, webFolder, who: 'Ada', keysFolder: join(folder, '..', 'keys'), createOwnLab: () => Promise.resolve(lab),
  sources: { now: () => Date.now(), fillRandom, say: (line) => void process.stderr.write(`${line}\n`) },
})
const phonesUrl = await hub.listenForPhones({ address: '127.0.0.1', port: Number(port) })
const door = await fetch(hub.url)
const cookie = door.headers.getSetCookie()[0]?.split(';')[0] ?? ''
const { listener } = (await call('/api/devices')) as { readonly listener: { readonly fingerprint: string } }
answer({ phonesUrl, fingerprint: listener.fingerprint, hubUrl: hub.newOpenUrl() })

for await (const line of createInterface({ input: process.stdin })) {
  if (line === 'code') answer(((await call('/api/devices/pairing', {})) as { readonly code: string }).code)
  else if (line === 'dump') answer(dump(lab))
  else if (line === 'revoke') {
    for (const { id } of lab.devices.list()) await call(`/api/devices/${id}/revoke`, {})
    answer('done')
  }
}

function answer(what: unknown): void {
  process.stdout.write(`${typeof what === 'string' ? what : JSON.stringify(what)}\n`)
}

async function call(path: string, body?: object): Promise<unknown> {
  const headers = { cookie, origin: `http://127.0.0.1:${hub.port}`, 'content-type': 'application/json' }
  const reply = await fetch(`http://127.0.0.1:${hub.port}${path}`, body === undefined ? { headers } : { method: 'POST', headers, body: JSON.stringify(body) })
  if (!reply.ok) throw new Error(`${path} must be answered; got ${reply.status} ${await reply.text()}`)
  return reply.json()
}

function dump(from: Lab): unknown {
  const own = new Set(from.list('sheet').flatMap(({ starts }) => starts.map(({ startId }) => startId)))
  const names = new Map(from.list('workload').map(({ id, name }) => [id, name]))
  return {
    runs: from.list('run').filter(({ startId }) => own.has(startId)).map(({ id, startId, workloadId, outcome, measures, exposure, note }) => ({ id, startId, workload: names.get(workloadId), outcome, values: measures.map(({ value }) => value), seconds: exposure?.seconds ?? null, note: note ?? null })),
    starts: from.list('start').filter(({ id }) => own.has(id)).map(({ id, result, note }) => ({ id, result, note: note ?? null })),
    changes: from.changes({ count: 100_000 }).map(({ what }) => what).toReversed(),
    pictures: from.list('evidence').map(({ name, bytes, thumbnail }) => ({ name, bytes, thumbnail: thumbnail !== undefined })),
    findings: from.check().map(({ place, sentence }) => `${place}: ${sentence}`),
  }
}

/** In the invented world: two processors, two memory kits, three tunes, and a sheet that takes turns. */
function makeLab(): Lab {
  const made = createLab(folder, { name: 'Hollin & Pike', currency: '', simulated: true }, sources)
  const ids = new Map<string, string>()
  const id = (name: string): string => {
    const known = ids.get(name) ?? sources.newId()
    ids.set(name, known)
    return known
  }
  const records: LabRecord[] = [
    { kind: 'part', id: id('Q14'), name: 'Quillon 14', slot: 'processor', prices: [] },
    { kind: 'part', id: id('Q14R'), name: 'Quillon 14R', slot: 'processor', prices: [] },
    { kind: 'part', id: id('M56'), name: 'Marram 5600', slot: 'memory', prices: [] },
    { kind: 'sample', id: id('Q14-1'), partId: id('Q14'), label: 'Q14-1', origin: 'retail', picked: 'at random', status: 'bench' },
    { kind: 'sample', id: id('Q14R-1'), partId: id('Q14R'), label: 'Q14R-1', origin: 'retail', picked: 'at random', status: 'bench' },
    { kind: 'sample', id: id('M56-1'), partId: id('M56'), label: 'M56-1', origin: 'retail', picked: 'at random', status: 'bench' },
    { kind: 'rig', id: id('rig'), name: 'north bench' },
    { kind: 'assembly', id: id('assembly'), rigId: id('rig'), since: '2026-03-02T08:00:00Z', slots: [{ slot: 'processor', sampleId: id('Q14-1') }, { slot: 'memory', position: 'A2', sampleId: id('M56-1') }] },
    { kind: 'tune', id: id('65 W'), name: 'quiet 65 W', settings: limit(65) },
    { kind: 'tune', id: id('95 W'), name: 'quiet 95 W', settings: limit(95) },
    { kind: 'workload', id: id('tile'), name: 'tile render, all cores', measures: [score('s', 'lower is better')] },
    { kind: 'workload', id: id('build'), name: 'code build', measures: [score('s', 'lower is better'), score('W', 'lower is better', 'package power')] },
    { kind: 'workload', id: id('map'), name: 'map scene, low resolution', measures: [score('fps', 'higher is better', 'frame rate')] },
  ]
  const sheet: Sheet = {
    kind: 'sheet', id: id('sheet'), name: 'launch comparison, first day', rigId: id('rig'), at: '2026-03-03T07:00:00Z', repeats: 2, conditions: {}, workloadIds: [id('tile'), id('build'), id('map')],
    starts: Array.from({ length: Number(starts) }, (_, place) => ({
      startId: sources.newId(), tuneId: id(place % 2 === 0 ? '65 W' : '95 W'), how: 'cold' as const,
      slots: [{ slot: 'processor' as const, sampleId: id(place % 4 < 2 ? 'Q14-1' : 'Q14R-1') }, { slot: 'memory' as const, position: 'A2', sampleId: id('M56-1') }],
    })),
  }
  made.apply({ who: 'Ada', what: 'A sheet and what it needs', items: [...records, sheet].map((after) => ({ before: null, after })) })
  return made
}

function limit(value: number): Extract<LabRecord, { kind: 'tune' }>['settings'] {
  return [
    { key: 'package power limit', scope: { level: 'package' }, asked: { shape: 'scalar', value, unit: 'W' } },
    { key: 'fan policy', scope: { level: 'machine' }, asked: { shape: 'mode', mode: 'quiet' } },
  ]
}

function score(unit: string, direction: 'higher is better' | 'lower is better', name = 'time') {
  return { name, unit, direction }
}
