// What crosses between a workspace and the thread that moves it.
import type { SpokenErrorParts } from '@guardband/model'
import type { BackupMade } from './backup.ts'
import type { CheckFinding } from '../lab.ts'
import type { ExportForm } from './moving-book.ts'
import type { ImportInput, Imported } from './import-file.ts'

export type MovingTask =
  | { readonly kind: 'import'; readonly input: ImportInput }
  | { readonly kind: 'export'; readonly folder: string; readonly form: ExportForm; readonly exported: string }
  | { readonly kind: 'backup'; readonly folder: string; readonly target: string; readonly at: string }
  | { readonly kind: 'check'; readonly folder: string }

/** What each task ends with; the pieces of an export come before. */
export interface MovingResults {
  readonly import: Imported
  readonly export: null
  readonly backup: BackupMade
  readonly check: readonly CheckFinding[]
}

export interface ThreadStart {
  readonly task: MovingTask
  /** Its first number is 1 once the thread is to stop: it may be too busy to hear a message. */
  readonly stop: SharedArrayBuffer
}

/** Of an import. Records are read, compared with their digest, then written; an archive is unpacked and compared. */
export interface MovingProgress {
  readonly doing: (typeof DOINGS)[number]
  readonly done: number
  /** 0 where nobody knows; in bytes while an archive is unpacked, otherwise in records. */
  readonly all: number
}

export const DOINGS = ['reading', 'comparing', 'writing', 'unpacking'] as const

/** Called often; throws where the work is to stop. */
export type Tell = (progress: MovingProgress) => void

export type FromThread =
  | { readonly kind: 'progress'; readonly progress: MovingProgress }
  /** An export that can be read from now on: what could be refused would have been. */
  | { readonly kind: 'ready' }
  | { readonly kind: 'piece'; readonly bytes: Uint8Array }
  | { readonly kind: 'done'; readonly result: MovingResults[keyof MovingResults] }
  | { readonly kind: 'refused'; readonly error: SpokenErrorParts }

/** One piece is asked for at a time, so that none wait in memory. */
export type ToThread = 'more' | 'stop'
