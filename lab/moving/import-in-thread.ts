// An import that keeps nobody waiting: in a thread of its own, followed and stopped from outside.
import type { Imported, ImportInput } from './import-file.ts'
import { runInThread, type Following } from './moving-thread.ts'

/** As importFile, by the machine's own clock. Stopped, it leaves no folder behind. */
export function importInThread(input: ImportInput, following: Following = {}): Promise<Imported> {
  return runInThread({ kind: 'import', input }, following)
}
