// Puts on the disk which names a folder holds: what was made, renamed or removed in it stays so through a power cut.
import { closeSync, fsyncSync, openSync } from 'node:fs'

export function syncNamesOf(folder: string): void {
  // Windows has no handle for syncing a folder; its file systems journal names by themselves.
  if (process.platform === 'win32') return
  const handle = openSync(folder, 'r')
  try {
    fsyncSync(handle)
  } finally {
    closeSync(handle)
  }
}
