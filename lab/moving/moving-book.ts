// What takes an open workspace elsewhere: exports as streams, and backups.
import { existsSync } from 'node:fs'
import path from 'node:path'
import { Readable } from 'node:stream'
import { momentNow, type LabCore } from '../lab-core.ts'
import { backupFolder, backupLab, lastBackup, type BackupMade, type LastBackup } from './backup.ts'
import { csvZip } from './export-csv.ts'
import { jsonLines } from './export-json.ts'
import { namedFiles, openReader, type LabReader } from './lab-reader.ts'
import { inPieces } from './text-pieces.ts'
import { archiveStream } from './write-archive.ts'

export type ExportForm = 'json' | 'csv' | 'archive'

export interface MovingBook {
  /** What the workspace holds at this moment, as a stream; what is written meanwhile is not in it. */
  readonly export: (form: ExportForm) => Promise<Readable>
  /** Over all records, whatever their order. */
  readonly digest: () => string
  /** A copy that can be opened as it is; without a folder, in one of its own beside the workspace. */
  readonly backup: (folder?: string) => Promise<BackupMade>
  readonly lastBackup: () => LastBackup | null
  /** How many files that records name are not in the workspace's folders. */
  readonly missingFiles: () => number
}

export function createMovingBook(core: LabCore): MovingBook {
  return {
    export: async (form) => {
      const exported = momentNow(core)
      if (form === 'archive') return archiveStream(core.folder, exported)
      const reader = openReader(core.folder)
      return form === 'csv' ? csvZip(reader, exported) : Readable.from(inPieces(closing(reader, jsonLines(reader, exported))), { objectMode: false })
    },
    digest: () => core.store.digest(),
    backup: (folder) => backupLab(core, folder ?? backupFolder(core.folder, momentNow(core))),
    lastBackup: () => lastBackup(core),
    missingFiles: () => namedFiles(core.db).filter((file) => !existsSync(path.join(core.folder, ...file.path.split('/')))).length,
  }
}

/** Closes the reader when its lines are over, or nobody wants more. */
function* closing(reader: LabReader, lines: Iterable<string>): Generator<string> {
  try {
    yield* lines
  } finally {
    reader.close()
  }
}
