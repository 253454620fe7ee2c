// What a person should look at: sheets not worked off, wet and newly quarantined samples, starts of which it is unsure what held, and how old the last backup is.
import { assemblyNow, sheetProgress, slotsToSwap, type InForce, type Sample, type Sheet, type Start, type ToDo } from '@guardband/model'
import type { LabCore } from './lab-core.ts'
import { lastBackup } from './moving/backup.ts'
import { sampleText } from './store/describe.ts'
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
  const kept = lastBackup(core)?.at ?? null
  const [firstAt, lastAt] = ['min', 'max'].map((end) => db.prepare<[], string>(`SELECT at FROM change WHERE seq = (SELECT ${end}(seq) FROM change)`).pluck().get() ?? new Date(now).toISOString())
  return {
    sheets: store.list('sheet').slice(-SHEETS_LOOKED_AT).toReversed().flatMap((sheet) => sheetRow(core, sheet, nameOf)),
    wet: samples.filter((sample) => sample.status === 'wet').map(named),
    quarantined: samples
      .filter((sample) => sample.status === 'quarantined' && sample.quarantine !== undefined && now - Date.parse(sample.quarantine.at) <= DAY_MS)
      .map((sample) => ({ ...named(sample), reason: sample.quarantine?.reason ?? '' })),
    unsure: { total: unsure.length, starts: unsure.slice(0, MOST_SHOWN) },
    setAside: db.prepare<[], number>(`SELECT count(*) FROM record INDEXED BY run_list WHERE kind = 'run' AND set_aside IS NOT NULL`).pluck().get() ?? 0,
    lastBackup: kept,
    backupDue: now - Date.parse(kept ?? firstAt) > BACKUP_DAYS * DAY_MS && (kept === null || Date.parse(lastAt) > Date.parse(kept)),
  }
}

const DAY_MS = 24 * 3600 * 1000
/** What happened longer ago was looked at or never will be. */
const UNSURE_DAYS = 7
const MOST_SHOWN = 5
/** What a lab can bear to enter again. */
const BACKUP_DAYS = 7
/** Nobody works off an older one. */
const SHEETS_LOOKED_AT = 12

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
function sheetRow({ store }: LabCore, sheet: Sheet, nameOf: (id: string | undefined) => string): ToDo['sheets'] {
  const starts = sheet.starts.flatMap(({ startId }) => {
    const start = store.get(startId)
    return start?.kind === 'start' ? [start] : []
  })
  const progress = sheetProgress(sheet, { starts, runs: starts.flatMap(({ id }) => store.ofStart(id)).filter((record) => record.kind === 'run') })
  if (progress.next === null) return []
  const { planned } = progress.next
  const index = progress.starts.findIndex((row) => row.planned.startId === planned.startId)
  const toSwap = slotsToSwap(planned, assemblyNow(sheet.rigId, store.list('assembly')))
  const at = progress.starts[index]
  return [
    {
      id: sheet.id,
      name: sheet.name,
      rig: nameOf(sheet.rigId),
      done: progress.starts.filter(({ state }) => state === 'done' || state === 'left out').length,
      of: sheet.starts.length,
      next: {
        startId: planned.startId,
        place: index + 1,
        tune: nameOf(planned.tuneId),
        how: planned.how,
        putIn: toSwap.map(({ sampleId }) => {
          const sample = store.get(sampleId)
          return sample?.kind === 'sample' ? sampleText(nameOf(sample.partId), sample.label) : 'a sample that is gone'
        }),
        begun: at?.state === 'begun',
        runsLeft: at === undefined ? 0 : at.of - at.done,
      },
    },
  ]
}
