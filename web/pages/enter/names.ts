// Names of what a sheet refers to.
import type { Part, Rig, Sample } from '@guardband/model/records/parts'
import type { SheetStart } from '@guardband/model/records/sheet'
import type { Tune } from '@guardband/model/records/tune'

export interface Catalogue {
  readonly parts: readonly Part[]
  readonly samples: readonly Sample[]
  readonly tunes: readonly Tune[]
  readonly rigs: readonly Rig[]
}

export interface Names {
  readonly sample: (id: string) => string
  readonly tune: (id: string) => string
  readonly rig: (id: string) => string
  /** Why somebody let the tune pass a ceiling; undefined where nobody had to. */
  readonly letPast: (tuneId: string) => string | undefined
  /** "Quillon 14 Q14-1, quiet 95 W, cold" */
  readonly start: (planned: SheetStart) => string
}

export function namesOf({ parts, samples, tunes, rigs }: Catalogue): Names {
  const named = new Map([...parts, ...tunes, ...rigs].map(({ id, name }) => [id, name]))
  const labels = new Map(samples.map(({ id, partId, label }) => [id, withPart(named.get(partId) ?? '', label)]))
  const tune = (id: string): string => named.get(id) ?? 'a tune that is gone'
  const sample = (id: string): string => labels.get(id) ?? 'a sample that is gone'
  const past = new Map(tunes.map(({ id, override }) => [id, override?.reason]))
  return { sample, tune, letPast: (id) => past.get(id), rig: (id) => named.get(id) ?? 'a rig that is gone', start: ({ slots, tuneId, how }) => `${slots.map(({ sampleId }) => sample(sampleId)).join(' + ')}, ${tune(tuneId)}, ${how}` }
}

function withPart(part: string, label: string): string {
  return part === '' || label.startsWith(part) ? label : `${part} ${label}`
}
