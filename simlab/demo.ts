// The demo workspace: a week on two rigs of an invented lab, made by the simulated bench from one seed, with the truth behind its questions.
import type { LabRecord, RecordOf } from '@guardband/model'
import { baseRecords, RIGS } from './demo/base-records.ts'
import type { BaseRecords } from './demo/base-records.ts'
import { benchBook } from './demo/bench-book.ts'
import { boardDump } from './demo/board-dump.ts'
import { CAMPAIGNS, demoTune, QUESTIONS } from './demo/campaigns.ts'
import type { DemoQuestion, DemoSide } from './demo/campaigns.ts'
import { DEMO_SEED, WORKLOADS } from './demo/catalogue.ts'
import { trueLogScore } from './demo/machine.ts'
import type { Population } from './demo/machine.ts'
import { rigLog } from './demo/rig-log.ts'
import { suiteShares } from './emit.ts'
import type { Truth } from './emit.ts'
import { namedStream } from './generator.ts'
import { seededIds } from './seeded-ids.ts'

export { DEMO_LAB } from './demo/catalogue.ts'

export interface DemoOptions {
  /** Another seed makes another week of the same lab. */
  readonly seed?: number
}

export interface DemoTruth extends Truth {
  readonly questionId: string
  readonly key: string
  readonly title: string
  /** Workload ids in the order of `perWorkload`. */
  readonly workloadIds: readonly string[]
}

/** Every record but the lab's own (see DEMO_LAB). Equal seeds give equal records, ids included. */
export function demoRecords(options: DemoOptions = {}): readonly LabRecord[] {
  return makeDemo(options.seed ?? DEMO_SEED).records
}

/** What is true of the questions among the records of the same seed. */
export function demoTruth(options: DemoOptions = {}): readonly DemoTruth[] {
  const seed = options.seed ?? DEMO_SEED
  const { base, questionIds } = makeDemo(seed)
  return QUESTIONS.map((question) => ({
    questionId: questionIds.get(question.key) ?? '',
    key: question.key,
    title: question.title,
    workloadIds: WORKLOADS.map(({ key }) => base.id(key)),
    theseSamples: scopeTruth(seed, question, 'these'),
    samplesLikeThese: scopeTruth(seed, question, question.slot),
  }))
}

export interface DemoFile {
  readonly name: string
  readonly mediaType: string
  readonly text: string
  /** Records that it speaks of. */
  readonly about: readonly string[]
  readonly note: string
}

/** A file beside the records of the same seed. Records alone can't carry it: it lies in the workspace's folder. */
export function demoEvidence(options: DemoOptions = {}): DemoFile {
  const seed = options.seed ?? DEMO_SEED
  const { base } = standingRecords(seed)
  return { name: 'Cairn M2 settings at 95 W.txt', mediaType: 'text/plain', text: boardDump(seed), about: [base.id('C2-01'), base.id('W95')], note: 'Simulated: the settings page of the board on the north bench.' }
}

/** The smallest gains that matter are fixed before the first start. */
const ASKED_AT = Date.UTC(2026, 10, 2, 7, 30)
const BASE_AT = Date.UTC(2026, 10, 2, 7, 0)

function makeDemo(seed: number): { readonly records: readonly LabRecord[]; readonly base: BaseRecords; readonly questionIds: ReadonlyMap<string, string> } {
  const { deskIds, base } = standingRecords(seed)
  const questions = QUESTIONS.map((question) => questionRecord(question, base, deskIds(ASKED_AT)))
  const questionIds = new Map(QUESTIONS.map(({ key }, index) => [key, questions[index].id]))
  const campaigns = CAMPAIGNS.map((campaign): LabRecord => ({
    kind: 'campaign', id: deskIds(ASKED_AT), name: campaign.name, questionIds: campaign.questions.map((key) => questionIds.get(key) ?? ''),
    budgetHours: campaign.budgetHours, ...(campaign.note === undefined ? {} : { note: campaign.note }),
  }))
  const logs = RIGS.flatMap((rig) =>
    rigLog({ seed, rig, campaigns: CAMPAIGNS.filter((campaign) => campaign.rig === rig), base, idAt: seededIds(seed, rig) }),
  )
  return { records: [...base.records, ...questions, ...campaigns, ...disturbOne(seed, logs), ...benchBook({ seed, base, idAt: seededIds(seed, 'bench book') })], base, questionIds }
}

function standingRecords(seed: number): { readonly base: BaseRecords; readonly deskIds: (moment: number) => string } {
  const deskIds = seededIds(seed, 'desk')
  return { base: baseRecords(seed, () => deskIds(BASE_AT)), deskIds }
}

function questionRecord(question: DemoQuestion, base: BaseRecords, id: string): RecordOf<'question'> {
  const side = ({ label, part, tune, processors, kits }: DemoSide) => ({
    label, partId: base.id(part), tuneId: base.id(tune), sampleIds: (question.slot === 'memory' ? kits : processors).map(base.id),
  })
  return {
    kind: 'question', id, title: question.title,
    ask: {
      kind: 'gain',
      about: {
        a: side(question.a), b: side(question.b), suiteId: base.suiteId, slot: question.slot,
        smallestGain: { percent: question.smallestPercent, fixedAt: new Date(ASKED_AT).toISOString() },
        ...(question.money === undefined ? {} : { money: question.money }),
      },
    },
  }
}

/** How much a backup in the background costs a run, in logs. */
const DISTURBANCE = 0.07

/** One scored run of the first campaign suffered a disturbance that a person saw and set aside. */
function disturbOne(seed: number, records: readonly LabRecord[]): readonly LabRecord[] {
  const candidates = records.filter((record) => record.kind === 'run' && record.outcome === 'scored').slice(0, FIRST_RUNS)
  const picked = candidates[namedStream(seed, 'disturbance').pick(candidates.length)]
  return records.map((record) => {
    if (record !== picked || record.kind !== 'run') return record
    const at = new Date(Date.parse(record.at ?? '') + SEEN_AFTER).toISOString()
    return {
      ...record,
      measures: record.measures.map(({ name, value }) => ({ name, value: Number((value * Math.exp(name === 'time' ? DISTURBANCE : -DISTURBANCE)).toPrecision(4)) })),
      setAside: { reason: 'A backup ran in the background: the disk was busy throughout the run.', by: 'north bench desk', at },
    }
  })
}

/** Runs of the first day and a half on the north bench. */
const FIRST_RUNS = 300
const SEEN_AFTER = 20 * 60_000

function scopeTruth(seed: number, question: DemoQuestion, population: Population): Truth['theseSamples'] {
  const shares = suiteShares(WORKLOADS.map(({ weight }) => weight))
  const sideMean = (side: DemoSide, workload: (typeof WORKLOADS)[number]): number => {
    const logs = side.processors.flatMap((processor) => side.kits.map((kit) => trueLogScore(seed, { processor, kit, tune: demoTune(side.tune) }, workload, population)))
    return logs.reduce((sum, log) => sum + log, 0) / logs.length
  }
  const perWorkload = WORKLOADS.map((workload) => sideMean(question.b, workload) - sideMean(question.a, workload))
  return { perWorkload, overall: perWorkload.reduce((sum, gain, index) => sum + shares[index] * gain, 0) }
}
