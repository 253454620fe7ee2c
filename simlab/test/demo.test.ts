import { askedValues, ceilingFindings, contentDigest, recordSchema, settingsOfTune, sheetProgress } from '@guardband/model'
import type { LabRecord, RecordKind, RecordOf } from '@guardband/model'
import { beforeAll, describe, expect, it } from 'vitest'
import { latestPrice, sortSample } from '@guardband/model/bins'
import { mapDump } from '@guardband/model/dump/map-names'
import { readDump } from '@guardband/model/dump/read-dump'
import { knownSettings, settingBook } from '@guardband/model/settings/setting-book'
import { doubtsOf } from '@guardband/model/settings/typing-guard'
import { demoEvidence, demoRecords, demoTruth } from '../demo.ts'
import { PARTS, WORKLOADS } from '../demo/catalogue.ts'

let records: readonly LabRecord[] = []
beforeAll(() => {
  records = demoRecords()
})
const all = <Kind extends RecordKind>(kind: Kind): readonly RecordOf<Kind>[] => records.filter((record): record is RecordOf<Kind> => record.kind === kind)
const look = (id: string): LabRecord | undefined => records.find((record) => record.id === id)
const book = () => settingBook(knownSettings({ kinds: all('setting kind'), tunes: all('tune') }))
const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length

describe('demo records', () => {
  it('all pass the record schema unchanged', () => {
    for (const record of records) expect(recordSchema.parse(record)).toEqual(record)
  })

  it('have ids that are theirs alone, and name only records that are there', () => {
    const ids = new Set(records.map(({ id }) => id))
    expect(ids.size).toBe(records.length)
    // The starts of a sheet are yet to be made.
    const named = JSON.stringify(records.filter(({ kind }) => kind !== 'sheet')).match(/"\w+Ids?":(?:"[^"]*"|\[[^\]]*\])/g) ?? []
    const references = named.flatMap((text) => text.match(/[0-9a-f]{8}-[0-9a-f-]{27}/g) ?? [])
    expect(references.length).toBeGreaterThan(records.length)
    expect(references.filter((id) => !ids.has(id))).toEqual([])
  })

  it('are the same for the same seed and others for another', () => {
    expect(contentDigest(demoRecords())).toBe(contentDigest(records))
    expect(contentDigest(demoRecords({ seed: 1 }))).not.toBe(contentDigest(records))
  })

  it('leave the record of the lab itself to whoever makes the workspace', () => {
    expect(all('lab')).toEqual([])
  })

  it('hold 1,500 to 2,500 runs in the first week of November 2026, within opening hours', () => {
    expect(all('run').length).toBeGreaterThan(1500)
    expect(all('run').length).toBeLessThan(2500)
    for (const { at } of all('start')) {
      expect(at).toMatch(/^2026-11-0[2-6]T/)
      expect(Number(at?.slice(11, 13))).toBeGreaterThanOrEqual(8)
      expect(Number(at?.slice(11, 13))).toBeLessThan(19)
    }
  })

  it('show failures as results: programs that died, a machine reset under heavy load with its place, a fallback start', () => {
    const reset = all('run').filter(({ outcome }) => outcome === 'machine reset')
    expect(reset.length).toBeGreaterThan(0)
    for (const run of reset) expect(run).toMatchObject({ phase: 'heavy', measures: [], place: expect.stringMatching(/^core \d+$/) })
    expect(all('run').filter(({ outcome }) => outcome === 'program died').length).toBeGreaterThan(1)
    expect(all('start').filter(({ result }) => result === 'fallback start').length).toBeGreaterThan(0)
  })

  it('book no fallback start under a tune, and every other start under the tune asked for', () => {
    const inForce = new Map(all('in force').map((record) => [record.startId, record]))
    for (const start of all('start')) {
      const record = inForce.get(start.id)
      if (start.result === 'started') expect(record).toMatchObject({ tuneId: start.tuneId, known: 'read back' })
      if (start.result === 'fallback start') expect(record?.tuneId).toBeUndefined()
      if (start.result === 'no start') expect(record).toBeUndefined()
    }
  })

  it('end a start at a machine reset', () => {
    const lastOf = new Map<string, number>()
    for (const { startId, order } of all('run')) lastOf.set(startId, Math.max(order, lastOf.get(startId) ?? 0))
    for (const run of all('run').filter(({ outcome }) => outcome === 'machine reset')) expect(run.order).toBe(lastOf.get(run.startId))
  })

  it('have one run set aside by a person with a reason', () => {
    const setAside = all('run').filter((run) => run.setAside !== undefined)
    expect(setAside).toHaveLength(1)
    expect(setAside[0].setAside?.reason).toContain('backup')
  })

  it('never overlap two starts on a rig, and keep every run inside its start', () => {
    const runs = Map.groupBy(all('run'), ({ startId }) => startId)
    for (const onRig of Map.groupBy(all('start'), ({ rigId }) => rigId).values()) {
      onRig.forEach((start, index) => {
        const ends = (runs.get(start.id) ?? []).map((run) => Date.parse(run.at ?? '') + 1000 * (run.exposure?.seconds ?? 0))
        for (const run of runs.get(start.id) ?? []) expect(Date.parse(run.at ?? '')).toBeGreaterThan(Date.parse(start.at ?? ''))
        const next = onRig[index + 1]
        if (next !== undefined) expect(Date.parse(next.at ?? '')).toBeGreaterThan(Math.max(Date.parse(start.at ?? ''), ...ends))
      })
    }
  })

  it('have ids that tell when they were made', () => {
    // RFC 9562, 5.7: the first 48 bits of an id are its milliseconds since 1970.
    for (const start of all('start')) expect(Math.abs(Number.parseInt(start.id.replace('-', '').slice(0, 12), 16) - Date.parse(start.at ?? ''))).toBeLessThan(1000)
  })

  it('fix the smallest gains that matter before the first start', () => {
    const first = Math.min(...all('start').map(({ at }) => Date.parse(at ?? '')))
    for (const { ask } of all('question')) expect(Date.parse(ask.about.smallestGain.fixedAt)).toBeLessThan(first)
  })
})

describe('the bench book of the demo', () => {
  it('gives every part two dated prices, every sample a serial of its own and a batch, and says what the bought ones cost', () => {
    for (const part of all('part')) expect(part.prices.map(({ at }) => at).toSorted()).toEqual([...new Set(part.prices.map(({ at }) => at))].slice(0, 2))
    const serials = all('sample').map(({ serial }) => serial ?? 'none')
    expect(new Set(serials).size).toBe(serials.length)
    expect(serials).not.toContain('none')
    for (const { origin, paid, batch, partId } of all('sample')) {
      expect(batch).toMatch(/^week 26-\d\d$/)
      expect(paid !== undefined).toBe(origin === 'retail')
      const part = look(partId)
      // Shops differ by 3 percent from the price before the latest; amounts are whole.
      if (paid !== undefined && part?.kind === 'part') expect(Math.abs(paid.amount - part.prices[0].amount)).toBeLessThanOrEqual(0.03 * part.prices[0].amount + 0.5)
    }
  })

  it('has a sheet on the north bench of which no start was made: what is next is its first, and only the memory must be changed', () => {
    const [sheet] = all('sheet')
    expect(all('start').filter(({ id }) => sheet.starts.some(({ startId }) => startId === id))).toEqual([])
    expect(sheetProgress(sheet, { starts: all('start'), runs: all('run') }).next).toMatchObject({ planned: sheet.starts[0], repeat: 1 })
    const held = all('assembly').filter(({ rigId }) => rigId === sheet.rigId).toSorted((a, b) => a.since.localeCompare(b.since)).at(-1)
    const swaps = sheet.starts[0].slots.filter(({ sampleId }) => held?.slots.some((slot) => slot.sampleId === sampleId) !== true)
    expect(swaps.map(({ slot }) => slot)).toEqual(['memory'])
  })

  it('asks for values of every shape, for auto and for unchanged, over three tunes', () => {
    const shapes = new Set(all('tune').flatMap(({ settings }) => settings.map(({ asked }) => asked.shape)))
    expect([...shapes].toSorted()).toEqual(['auto', 'curve', 'mode', 'scalar', 'table', 'unchanged'])
    const last = all('tune').at(-1)
    expect(new Set(last === undefined ? [] : settingsOfTune(last, look).map(({ fromTuneId }) => fromTuneId)).size).toBeGreaterThanOrEqual(3)
  })

  it('asks for nothing odd and for nothing past a ceiling, while 10 times as much would be both', () => {
    for (const tune of all('tune')) {
      for (const setting of tune.settings) expect(doubtsOf({ setting, known: book().find(setting.key) ?? null })).toEqual([])
      expect(ceilingFindings({ settings: askedValues(settingsOfTune(tune, look)), ceilings: all('ceiling') })).toEqual([])
    }
    for (const ceiling of all('ceiling')) {
      const value = { shape: 'scalar', value: 10 * (ceiling.highest ?? 0), unit: ceiling.unit } as const
      const setting = { key: ceiling.settings[0], scope: { level: 'package' as const }, asked: value }
      expect(ceilingFindings({ settings: [{ ...setting, value }], ceilings: all('ceiling') })).toMatchObject([{ what: 'past', ceilingId: ceiling.id }])
      expect(doubtsOf({ setting, known: book().find(setting.key) ?? null })).not.toEqual([])
    }
  })

  it('has bins that samples meet, miss and leave open', () => {
    const inForce = new Map(all('in force').map((record) => [record.id, record]))
    const runs = Map.groupBy(all('run'), ({ startId }) => startId)
    const assemblies = new Map(all('assembly').map((assembly) => [assembly.id, assembly]))
    const states = all('sample').flatMap((sample) => {
      const starts = all('start')
        .filter(({ assemblyId }) => assemblies.get(assemblyId)?.slots.some(({ sampleId }) => sampleId === sample.id) === true)
        .map((start) => ({
          askedId: start.tuneId ?? null, cameUp: start.result === 'started',
          runs: (runs.get(start.id) ?? []).map(({ workloadId, inForceId, outcome, measures, setAside }) => ({ workloadId, tuneId: inForce.get(inForceId)?.tuneId ?? null, outcome, measures, setAside: setAside !== undefined })),
        }))
      return sortSample(all('bin').filter(({ partId }) => partId === sample.partId), starts).bins.map(({ binId, state }) => `${all('bin').find(({ id }) => id === binId)?.name}: ${state}`)
    })
    expect(new Set(states)).toEqual(new Set([
      'Proven at 95 W: met', 'Proven at 95 W: not met', 'Proven at 95 W: open', 'Crew pick: met', 'Crew pick: not met', 'As it comes: met', 'Full rate: met', 'Full rate: not met', 'Sold as 6200: open',
    ]))
    for (const bin of all('bin')) expect(latestPrice(bin)?.amount).toBeGreaterThan(0)
  })

  it('holds one sample back from sale, with who and why', () => {
    const kept = all('sample').filter(({ status }) => status !== 'bench')
    expect(kept).toMatchObject([{ status: 'quarantined', quarantine: { reason: expect.stringContaining('fell back'), by: 'north bench desk' } }])
  })

  it('reads the settings page of the board by the layout that it remembers, without a question', () => {
    const { text, about } = demoEvidence()
    expect(text).toContain('Simulated')
    for (const id of about) expect(look(id)).toBeDefined()
    const mapped = mapDump({ read: readDump(text), book: book(), layouts: all('layout') })
    expect(mapped.layout).toMatchObject({ record: { name: 'Cairn M2 0.4.17', fingerprint: mapped.fingerprint }, new: 0 })
    expect(mapped.names.find(({ name }) => name.name === 'Processor / ratio limit')).toMatchObject({ by: 'remembered', name: { key: 'core ratio' }, entries: 14 })
  })
})

describe('demo truth', () => {
  it('covers every question of the records', () => {
    expect(demoTruth().map(({ questionId }) => questionId)).toEqual(all('question').map(({ id }) => id))
  })

  it('follows the closed form of the memory: elasticity x ln(6800 / 5600) among kits like these', () => {
    const truth = demoTruth().find(({ key }) => key === '6800-5600')
    const elasticities = WORKLOADS.map(({ memoryElasticity }) => memoryElasticity)
    elasticities.forEach((elasticity, index) => expect(truth?.samplesLikeThese.perWorkload[index]).toBeCloseTo(elasticity * Math.log(6800 / 5600), 12))
  })

  it('follows the closed form of the processors: core elasticity x core speed at the same power', () => {
    const truth = demoTruth().find(({ key }) => key === 'parts')
    const core = PARTS.find(({ key }) => key === 'Q14R')?.core ?? 0
    WORKLOADS.forEach(({ coreElasticity }, index) => expect(truth?.samplesLikeThese.perWorkload[index]).toBeCloseTo(coreElasticity * core, 12))
  })

  it('lies where plain means of the records point, within five standard errors of start scatter', () => {
    const assemblies = new Map(all('assembly').map((assembly) => [assembly.id, assembly]))
    const inForce = new Map(all('in force').map((record) => [record.startId, record.tuneId]))
    const measures = new Map(all('workload').map((workload) => [workload.id, workload.measures[0]]))
    const runs = Map.groupBy(all('run').filter((run) => run.setAside === undefined && run.measures.length > 0), ({ startId }) => startId)
    let judged = 0
    for (const truth of demoTruth()) {
      // All of A before all of B under drift: its plain means are meant to mislead.
      if (truth.key === 'offset') continue
      const { about } = all('question').find(({ id }) => id === truth.questionId)?.ask ?? {}
      truth.workloadIds.forEach((workloadId, index) => {
        const sides = [about?.a, about?.b].map((side) => {
          const bySample = new Map<string, number[]>()
          for (const start of all('start')) {
            const sampleId = assemblies.get(start.assemblyId)?.slots.find(({ slot }) => slot === about?.slot)?.sampleId ?? ''
            if (inForce.get(start.id) !== side?.tuneId || side?.sampleIds?.includes(sampleId) !== true) continue
            const logs = (runs.get(start.id) ?? []).filter((run) => run.workloadId === workloadId).map((run) => Math.log(run.measures[0].value))
            if (logs.length > 0) bySample.set(sampleId, [...(bySample.get(sampleId) ?? []), mean(logs)])
          }
          const starts = [...bySample.values()].reduce((sum, list) => sum + list.length, 0)
          return { mean: mean([...bySample.values()].map(mean)), starts }
        })
        const sign = measures.get(workloadId)?.direction === 'lower is better' ? -1 : 1
        // Spread of a start's mean of three repeats: 0.0022 common, 0.0016 own, 0.0025 a repeat, and up to 0.0007 from an instrument's step.
        const spread = Math.hypot(0.0022, 0.0016, 0.0025 / Math.sqrt(3), 0.0007)
        const error = spread * Math.sqrt(1 / sides[0].starts + 1 / sides[1].starts)
        expect(Math.abs(sign * (sides[1].mean - sides[0].mean) - truth.theseSamples.perWorkload[index])).toBeLessThan(5 * error)
        judged += 1
      })
    }
    expect(judged).toBe(36)
  })
})
