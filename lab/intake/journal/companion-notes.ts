// What companions saw of rigs: kept when their files come in, and put beside the start or run that it is about as soon as the workspace has that.
import { journalBodySchema, type JournalBodyOf, type JournalEntry, type LabRecord, type Run, type Start } from '@guardband/model'
import type { LabCore } from '../../lab-core.ts'
import type { SeenOfJournal } from '../../lab.ts'
import { noteOf } from './who-said.ts'

interface SawRow {
  readonly journal: string
  readonly sequence: number
  readonly who: string
  readonly body: string
}

/** Keeps what a companion's file says; again changes nothing. */
export function keepSaws({ db }: LabCore, file: { readonly journal: string; readonly who: string; readonly entries: readonly JournalEntry[] }): void {
  const add = db.prepare('INSERT OR IGNORE INTO journal_saw (journal, sequence, who, about, body) VALUES (?, ?, ?, ?, ?)')
  for (const { sequence, body } of file.entries) {
    if (body.type === 'saw') add.run(file.journal, sequence, file.who, body.journal, JSON.stringify(body))
  }
}

/** Puts what waits beside its start or run, each companion's in a change of its own. Returns the last change. */
export function noteSaws(core: LabCore): number | null {
  const waiting = core.db.prepare<[], SawRow>('SELECT journal, sequence, who, body FROM journal_saw WHERE noted = 0 ORDER BY journal, sequence').all()
  const settle = core.db.prepare('UPDATE journal_saw SET noted = 1 WHERE journal = ? AND sequence = ?')
  const isJournal = core.db.prepare<[string], number>('SELECT 1 FROM journal WHERE id = ?').pluck()
  const cameFrom: JournalsOfStarts['cameFrom'] = ({ source }, journal) => source !== undefined && (journal === null ? isJournal.get(source) !== undefined : source === journal)
  let change: number | null = null
  for (const [who, rows] of Map.groupBy(waiting, (row) => row.who)) {
    const after = new Map<string, Start | Run>()
    const look = (id: string): LabRecord | undefined => after.get(id) ?? core.store.get(id)
    for (const { journal, sequence, body } of rows) {
      const saw = sawOf(body)
      const changed = noted(saw, look, { ofJournal: () => startOfJournal(core, saw.journal), cameFrom })
      if (changed.length === 0) continue
      for (const record of changed) after.set(record.id, record)
      settle.run(journal, sequence)
    }
    if (after.size === 0) continue
    const items = [...after.values()].map((record) => ({ before: core.store.get(record.id) ?? null, after: record }))
    change = core.log.write({ who, what: `Noted what a companion saw of ${items.length === 1 ? 'a start or run' : `${items.length} starts and runs`}`, items, told: 'as it happened' })
  }
  return change
}

/** What companions saw of the rig that writes this journal, in order. */
export function seenOfJournal({ db }: LabCore, journal: string): readonly SeenOfJournal[] {
  return db
    .prepare<[string], SawRow>('SELECT journal, sequence, who, body FROM journal_saw WHERE about = ? ORDER BY journal, sequence')
    .all(journal)
    .map(({ body }) => {
      const { at, what, text } = sawOf(body)
      return { at, what, text }
    })
}

interface JournalsOfStarts {
  readonly ofJournal: () => Start | undefined
  /** A companion speaks of what rigs did: of the journal that it names, else of any, and never of what people entered. */
  readonly cameFrom: (start: Start, journal: string | null) => boolean
}

/** The records as they are with it; none while the workspace lacks what it is about. */
function noted(saw: JournalBodyOf<'saw'>, look: (id: string) => LabRecord | undefined, { ofJournal, cameFrom }: JournalsOfStarts): readonly (Start | Run)[] {
  const run = saw.runId === null ? undefined : look(saw.runId)
  // A run that is not booked yet is closed by the rig's next journal.
  if (saw.runId !== null && run?.kind !== 'run') return []
  const named = run?.kind === 'run' ? look(run.startId) : saw.startId === null ? ofJournal() : look(saw.startId)
  const start = named?.kind === 'start' && cameFrom(named, saw.journal) ? named : undefined
  if (start === undefined) return []
  const line = lineOf(saw)
  if (saw.what === 'POST code') {
    const code = saw.text.trim()
    const training = start.training ?? { result: 'unknown' as const }
    const taken = training.postCode === undefined && code !== '' && code.length <= LONGEST_CODE
    return [{ ...start, ...(taken ? { training: { ...training, postCode: code } } : {}), note: noteOf([start.note ?? '', line]) }]
  }
  const beside = run?.kind === 'run' ? run : start
  return [{ ...beside, note: noteOf([beside.note ?? '', line]) }]
}

/** As the schema of a training allows. */
const LONGEST_CODE = 20

function lineOf({ at, what, text, exitStatus }: JournalBodyOf<'saw'>): string {
  const status = exitStatus === undefined ? '' : exitStatus === null ? ', no exit status' : `, exit status ${exitStatus}`
  return `A companion saw at ${at}: ${what}${text === '' ? '' : `, ${text}`}${status}.`
}

function startOfJournal({ db, store }: LabCore, journal: string | null): Start | undefined {
  if (journal === null) return undefined
  const id = db.prepare<[string], string>(`SELECT id FROM record WHERE kind = 'start' AND json_extract(body, '$.source') = ?`).pluck().get(journal)
  const record = id === undefined ? undefined : store.get(id)
  return record?.kind === 'start' ? record : undefined
}

function sawOf(body: string): JournalBodyOf<'saw'> {
  const parsed = journalBodySchema.parse(JSON.parse(body))
  if (parsed.type !== 'saw') throw new RangeError(`a row of what companions saw must hold that; got ${parsed.type}`)
  return parsed
}
