// What takes an open workspace elsewhere: exports as streams, and backups. All of it happens in threads of their own, on connections of their own.
import { existsSync } from 'node:fs'
import path from 'node:path'
import type { Readable } from 'node:stream'
import type { CheckFinding } from '../lab.ts'
import { momentNow, type LabCore } from '../lab-core.ts'
import { backupFolder, lastBackup, noteBackup, type BackupMade, type LastBackup } from './backup.ts'
import { namedFiles } from './lab-reader.ts'
import { runInThread, streamFromThread } from './moving-thread.ts'

export type ExportForm = 'json' | 'csv' | 'archive'

export interface MovingBook {
  /** What the workspace holds at this moment, as a stream; what is written meanwhile is not in it. */
  readonly export: (form: ExportForm) => Promise<Readable>
  /** Over all records, whatever their order. */
  readonly digest: () => string
  /** A copy that can be opened as it is; without a folder, in one of its own beside the workspace. */
  readonly backup: (folder?: string) => Promise<BackupMade>
  /** As `Lab.check`, while others are served. */
  readonly check: () => Promise<readonly CheckFinding[]>
  readonly lastBackup: () => LastBackup | null
  /** How many files that records name are not in the workspace's folders. */
  readonly missingFiles: () => number
}

export function createMovingBook(core: LabCore): MovingBook {
  const { folder } = core
  return {
    export: (form) => streamFromThread({ kind: 'export', folder, form, exported: momentNow(core) }),
    digest: () => core.store.digest(),
    backup: async (target) => {
      const at = momentNow(core)
      const made = await runInThread({ kind: 'backup', folder, target: target ?? backupFolder(folder, at), at })
      noteBackup(core, made)
      return made
    },
    check: () => runInThread({ kind: 'check', folder }),
    lastBackup: () => lastBackup(core),
    missingFiles: () => namedFiles(core.db).filter((file) => !existsSync(path.join(folder, ...file.path.split('/')))).length,
  }
}
