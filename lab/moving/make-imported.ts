// A new workspace that holds the records of an export: whole, and with the same content digest, or not there.
import { mkdirSync } from 'node:fs'
import path from 'node:path'
import { LONGEST_WHAT, SpokenError } from '@guardband/model'
import type { LabSources } from '../lab.ts'
import { createChangeLog } from '../store/change-log.ts'
import { openDatabase } from '../store/database.ts'
import { createRecordStore } from '../store/record-store.ts'
import { speakDatabaseErrors } from '../store/speak-database-errors.ts'
import { beginWholeFolder } from '../whole-folder.ts'
import { digestOfBodies } from './content-digest.ts'
import type { Tell } from './moving-task.ts'
import type { RecordsIn } from './records-in.ts'

export function makeImported(target: string, incoming: RecordsIn, sources: LabSources, by: { readonly who: string; readonly file: string; readonly tell: Tell }): void {
  const whole = beginWholeFolder(target)
  try {
    for (const name of FOLDERS) mkdirSync(path.join(whole.building, name))
    speakDatabaseErrors(target, () => {
      const db = openDatabase(whole.building, 'create')
      try {
        db.prepare('INSERT INTO meta (key, value) VALUES (?, ?)').run('lab id', sources.newId())
        const all = incoming.records.length
        const log = createChangeLog(db, createRecordStore(db), sources.now)
        db.transaction(() =>
          log.write({
            who: by.who,
            what: `Imported ${all} records from ${by.file}, exported ${incoming.exported.slice(0, DAY)}`.slice(0, LONGEST_WHAT),
            items: incoming.records.map((after) => ({ before: null, after })),
            // The guards looked at each record where it was made; here it comes as it stood.
            told: 'restored',
            onProgress: (share) => by.tell({ doing: 'writing', done: Math.round(share * all), all }),
          }),
        ).immediate()
        by.tell({ doing: 'comparing', done: 0, all: 0 })
        const digest = digestOfBodies(db.prepare<[], string>('SELECT body FROM record ORDER BY id').pluck().iterate())
        if (digest !== incoming.digest) throw new SpokenError({ code: 'digest-differs', place: by.file, message: 'the new workspace would not hold the records that were exported: its content digest differs.', mend: 'Import it with the version of the program that exported it.' })
      } finally {
        // Closing folds the log into the main file, so the rename moves one whole database.
        db.close()
      }
    })
    whole.finish()
  } catch (error) {
    whole.abandon()
    throw error
  }
}

const FOLDERS = ['journals', 'reports']
/** Letters of a day in ISO 8601. */
const DAY = 10
