// Which samples the list of parts shows: the words, status, way of picking and bin in its address.
import { pickedSchema, sampleStatusSchema, type Sample } from '@guardband/model/records/parts'

export interface PartFilter {
  readonly find?: string | undefined
  readonly status?: Sample['status'] | undefined
  readonly picked?: Sample['picked'] | undefined
  /** A bin's id, or "none" for samples that nobody sorted. */
  readonly bin?: string | undefined
}

export function partFilterOf(raw: Readonly<Record<string, unknown>>): PartFilter {
  return {
    find: typeof raw['find'] === 'number' ? String(raw['find']) : textOf(raw['find']),
    status: sampleStatusSchema.safeParse(raw['status']).data,
    picked: pickedSchema.safeParse(raw['picked']).data,
    bin: textOf(raw['bin']),
  }
}

export function isFilter(filter: PartFilter): boolean {
  return Object.values(filter).some((value) => value !== undefined)
}

/** Every word stands somewhere in what the list shows of the sample, or in its part's name. */
export function fits(filter: PartFilter, sample: Sample, words: { readonly part: string; readonly bin: string }): boolean {
  if (filter.status !== undefined && sample.status !== filter.status) return false
  if (filter.picked !== undefined && sample.picked !== filter.picked) return false
  if (filter.bin !== undefined && (sample.bin?.binId ?? NO_BIN) !== filter.bin) return false
  if (filter.find === undefined) return true
  const text = [words.part, words.bin, sample.label, sample.serial, sample.batch, sample.origin, sample.picked, sample.status, sample.note].join('\n').toLowerCase()
  return filter.find.toLowerCase().split(/\s+/).every((word) => text.includes(word))
}

export const NO_BIN = 'none'

function textOf(value: unknown): string | undefined {
  return typeof value === 'string' && value.trim() !== '' ? value.trim() : undefined
}
