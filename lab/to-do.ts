// What a person should look at: sheets not worked off, wet and newly quarantined samples, starts of which it is unsure what held, and how old the last backup is.
import type { InForce, LabRecord, Sample, Sheet, Start, ToDo } from '@guardband/model'
import type { LabCore } from './lab-core.ts'
import { describeRecord, sampleText } from './store/describe.ts'
import { startName } from './store/start-name.ts'

export function readToDo(core: LabCore): ToDo {
  const { db, store } = core
  const now = core.sources.now()
  const nameOf = (id: string | undefined): string => {
    const record = id === undefined ? undefined : store.get(id)
    return record !== undefined && 'name' in record ? record.name : ''
  }
  const samples = store.list('sample')
  const named = (sample: Sample): { readonly id: string; readonly name: string } => ({ id: sample.id, name: sampleText(nameOf(sample.partId), sample.label) })
  const unsure = unsureStarts(core, now, nameOf)
  return {
    sheets: store.list('sheet').toReversed().flatMap((sheet) => sheetRow(core, sheet, nameOf)),
    wet: samples.filter((sample) => sample.status === 'wet').map(named),
    quarantined: samples
      .filter((sample) => sample.status === 'quarantined' && sample.quarantine !== undefined && now - Date.parse(sample.quarantine.at) <= DAY_MS)
      .map((sample) => ({ ...named(sample), reason: sample.quarantine?.reason ?? '' })),
    unsure: { total: unsure.length, starts: unsure.slice(0, MOST_SHOWN) },
    setAside: db.prepare<[], number>(`SELECT count(*) FROM record INDEXED BY run_list WHERE kind = 'run' AND set_aside IS NOT NULL`).pluck().get() ?? 0,
    lastBackup: db.prepare<[], string>(`SELECT value FROM meta WHERE key = 'last backup'`).pluck().get() ?? null,
  }
}

const DAY_MS = 24 * 3600 * 1000
/** What happened longer ago was looked at or never will be. */
const UNSURE_DAYS = 7
const MOST_SHOWN = 5

function unsureStarts({ db, store }: LabCore, now: number, nameOf: (id: string | undefined) => string): ToDo['unsure']['starts'] {
  const unmatched = db.prepare<[], string>(`SELECT body FROM record WHERE kind = 'in force' AND tune_id IS NULL`).pluck().all()
  const why = new Map<string, string>()
  for (const body of unmatched) why.set((JSON.parse(body) as InForce).startId, 'what was in force matches no tune')
  const fell = db.prepare<[], string>(`SELECT id FROM record WHERE kind = 'start' AND (json_extract(body, '$.result') = 'fallback start' OR json_extract(body, '$.training.result') = 'fallback')`)
  for (const id of fell.pluck().all()) why.set(id, 'it came up at fallback settings')
  return [...why]
    .flatMap(([id, reason]) => {
      const start = store.get(id)
      return start?.kind === 'start' && now - recordedAt(start) <= UNSURE_DAYS * DAY_MS ? [{ start, reason }] : []
    })
    .toSorted((a, b) => recordedAt(b.start) - recordedAt(a.start))
    .map(({ start, reason }) => ({ id: start.id, name: startName(start, nameOf(start.tuneId) || null), why: reason }))
}

/** An id of version 7 begins with the milliseconds at which it was made (RFC 9562, 5.7). */
function recordedAt(start: Start): number {
  return start.at === undefined ? Number.parseInt(start.id.slice(0, 8) + start.id.slice(9, 13), 16) : Date.parse(start.at)
}

/** None where nothing is left of it. */
function sheetRow({ db, store }: LabCore, sheet: Sheet, nameOf: (id: string | undefined) => string): ToDo['sheets'] {
  const counts = new Map(
    db
      .prepare<[string], { id: string; runs: number }>(
        `SELECT s.id AS id, (SELECT count(*) FROM record r WHERE r.kind = 'run' AND r.start_id = s.id) AS runs FROM record s WHERE s.kind = 'start' AND s.id IN (SELECT value FROM json_each(?))`,
      )
      .all(JSON.stringify(sheet.starts.map(({ startId }) => startId)))
      .map((row) => [row.id, row.runs]),
  )
  const wanted = sheet.workloadIds.length * sheet.repeats
  const isOver = (startId: string): boolean => {
    const start: LabRecord | undefined = store.get(startId)
    return start?.kind === 'start' && start.result !== 'started'
  }
  const left = (startId: string): number => (isOver(startId) ? 0 : Math.max(0, wanted - (counts.get(startId) ?? 0)))
  const last = sheet.starts.findLastIndex(({ startId }) => counts.has(startId))
  const index = sheet.starts.findIndex(({ startId, skipped }, place) => skipped === undefined && (counts.has(startId) ? place === last && left(startId) > 0 : true))
  const next = sheet.starts[index]
  if (next === undefined) return []
  return [
    {
      id: sheet.id,
      name: sheet.name,
      rig: nameOf(sheet.rigId),
      done: sheet.starts.filter(({ startId, skipped }, place) => skipped !== undefined || (counts.has(startId) && place !== index)).length,
      of: sheet.starts.length,
      next: {
        startId: next.startId,
        place: index + 1,
        tune: nameOf(next.tuneId),
        how: next.how,
        samples: next.slots.map(({ sampleId }) => {
          const sample = store.get(sampleId)
          return sample?.kind === 'sample' ? sampleText(nameOf(sample.partId), sample.label) : sample === undefined ? 'a sample that is gone' : describeRecord(sample, store.get)
        }),
        begun: counts.has(next.startId),
        runsLeft: left(next.startId),
      },
    },
  ]
}
