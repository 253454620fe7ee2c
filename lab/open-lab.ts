// Makes a workspace whole or not at all, and opens one.
import { existsSync, mkdirSync } from 'node:fs'
import path from 'node:path'
import { LONGEST_WHAT, SpokenError, type LabRecord } from '@guardband/model'
import type { Lab, LabSources } from './lab.ts'
import { DATABASE_FILE, openDatabase, readHeader, type LabDatabase } from './store/database.ts'
import { speakDatabaseErrors } from './store/speak-database-errors.ts'
import { beginWholeFolder } from './whole-folder.ts'
import { createWorkspace } from './workspace.ts'

export interface NewLab {
  readonly name: string
  readonly currency: string
  readonly simulated?: boolean
  /** Put in as the second change, so that it can be taken back. */
  readonly records?: readonly LabRecord[]
  readonly who?: string
}

/** Makes a workspace in a folder that is empty or not there yet. It is built under another name beside it and renamed when whole. */
export function createLab(folder: string, lab: NewLab, sources: LabSources): Lab {
  const target = path.resolve(folder)
  const whole = beginWholeFolder(target)
  try {
    for (const name of EAGER_FOLDERS) mkdirSync(path.join(whole.building, name))
    const db = openDatabase(whole.building, 'create')
    try {
      fill(whole.building, db, lab, sources)
    } finally {
      // Closing folds the log into the main file, so the rename moves one whole database.
      db.close()
    }
    whole.finish()
  } catch (error) {
    whole.abandon()
    throw error
  }
  return openLab(target, sources)
}

/** Opens a workspace, bringing an older format up to date. One from a newer program is refused and left as it is. */
export function openLab(folder: string, sources: LabSources): Lab {
  const target = path.resolve(folder)
  if (!existsSync(path.join(target, DATABASE_FILE))) {
    throw new SpokenError({ code: 'no-lab', place: target, message: 'there is no workspace in this folder.', mend: 'Make one, or choose another folder.' })
  }
  return speakDatabaseErrors(target, () => {
    const db = openDatabase(target, 'existing')
    try {
      const lab = createWorkspace(target, db, sources)
      lab.recover()
      return lab
    } catch (error) {
      db.close()
      throw error
    }
  })
}

/** Whether the folder holds a workspace, of whatever format. */
export function isLab(folder: string): boolean {
  try {
    return readHeader(path.join(folder, DATABASE_FILE)) !== null
  } catch {
    return false
  }
}

/** The others come when something is put in them. */
const EAGER_FOLDERS = ['journals', 'reports']

function fill(folder: string, db: LabDatabase, lab: NewLab, sources: LabSources): void {
  const made = createWorkspace(folder, db, sources)
  const who = lab.who ?? 'guardband'
  db.prepare('INSERT INTO meta (key, value) VALUES (?, ?)').run('lab id', sources.newId())
  made.apply({
    who,
    what: `Made the workspace ${lab.name}`.slice(0, LONGEST_WHAT),
    items: [{ before: null, after: { kind: 'lab', id: sources.newId(), name: lab.name, currency: lab.currency, simulated: lab.simulated ?? false } }],
  })
  if (lab.records !== undefined && lab.records.length > 0) {
    made.apply({ who, what: 'Put in its first records', items: lab.records.map((after) => ({ before: null, after })), told: 'restored' })
  }
}
