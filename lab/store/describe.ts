// How a record is called in a sentence: by names that people know, read from the records it refers to.
import type { GainAbout, LabRecord, Run, Start } from '@guardband/model'
import { startInSentence } from './start-name.ts'

/** Finds the records that a record refers to; what is gone is left out of the words. */
export type Look = (id: string) => LabRecord | undefined

export function describeRecord(record: LabRecord, look: Look): string {
  switch (record.kind) {
    case 'lab':
    case 'part':
    case 'rig':
    case 'tune':
    case 'workload':
    case 'suite':
    case 'grade':
    case 'campaign':
    case 'bin':
    case 'ceiling':
    case 'sheet':
      return `${record.kind} "${record.name}"`
    case 'sample':
      return `sample "${record.label}"`
    case 'report':
      return `report ${record.number}`
    case 'question':
      return `question "${record.title ?? aboutName(record.ask.about, look)}"`
    case 'evidence':
      return `evidence "${record.name}"`
    case 'layout':
      return `layout "${record.name}"`
    case 'setting kind':
      return `setting "${record.name}"`
    case 'dose':
      return `dose of ${sampleOf(record.sampleId, look)}`
    case 'cost':
      return `cost of a ${record.of}`
    case 'assembly':
      return `assembly on rig "${nameOf(record.rigId, look) ?? '?'}" with ${record.slots.map(({ sampleId }) => sampleOf(sampleId, look)).join(' + ')}`
    case 'mount':
      return `mount of ${describeLooked(record.assemblyId, look, 'an assembly that is gone')}`
    case 'start':
      return describeStart(record, look)
    case 'in force':
      return `what was in force in ${describeLooked(record.startId, look, 'a start that is gone')}`
    case 'run':
      return describeRun(record, look)
  }
}

/** The two sides by their names, where a question has no title of its own. */
export function aboutName({ a, b }: GainAbout, look: Look): string {
  const side = (about: GainAbout['a']): string =>
    about.label ?? ([about.partId, about.tuneId].flatMap((id) => nameOf(id, look) ?? []).join(' at ') || 'something that is gone')
  return `${side(b)} against ${side(a)}`
}

/** A sample with its part's name before it, unless its label says that already. */
export function sampleText(part: string, label: string): string {
  return label.startsWith(part) ? label : `${part} ${label}`
}

function describeStart(start: Start, look: Look): string {
  const sample = comparedSample(start, look)
  return `${startInSentence(start, nameOf(start.tuneId, look) ?? null)}${sample === undefined ? '' : ` of ${sample}`}`
}

function describeRun(run: Run, look: Look): string {
  const start = look(run.startId)
  const sample = start?.kind === 'start' ? comparedSample(start, look) : undefined
  const where = start?.kind === 'start' ? `${startInSentence(start, nameOf(start.tuneId, look) ?? null)}, run ${run.order + 1}` : `run ${run.order + 1} of a start that is gone`
  return `run of ${nameOf(run.workloadId, look) ?? 'a workload that is gone'}${sample === undefined ? '' : ` on ${sample}`} (${where})`
}

/** The processor, or what sits in the first slot. */
function comparedSample(start: Start, look: Look): string | undefined {
  const assembly = look(start.assemblyId)
  if (assembly?.kind !== 'assembly') return undefined
  const slot = assembly.slots.find((candidate) => candidate.slot === 'processor') ?? assembly.slots[0]
  return slot === undefined ? undefined : sampleOf(slot.sampleId, look)
}

function sampleOf(id: string, look: Look): string {
  const sample = look(id)
  return sample?.kind === 'sample' ? sampleText(nameOf(sample.partId, look) ?? '', sample.label).trim() : 'a sample that is gone'
}

function describeLooked(id: string, look: Look, otherwise: string): string {
  const record = look(id)
  return record === undefined ? otherwise : describeRecord(record, look)
}

function nameOf(id: string | undefined, look: Look): string | undefined {
  const record = id === undefined ? undefined : look(id)
  return record !== undefined && 'name' in record ? record.name : undefined
}
