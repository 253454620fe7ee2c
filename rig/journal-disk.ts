// The file operations that a journal needs, as a port, and the port over this machine's own disk.
import { constants } from 'node:fs'
import { mkdir, open, readFile, readdir, stat, statfs, type FileHandle } from 'node:fs/promises'
import { dirname, join, resolve } from 'node:path'

export interface JournalFile {
  /** Writes all bytes at the file's end or throws; never a part of them in silence. */
  readonly append: (bytes: Uint8Array) => Promise<void>
  /** Returns once everything appended is on the disk (fdatasync). */
  readonly sync: () => Promise<void>
  readonly close: () => Promise<void>
}

export interface JournalDisk {
  /** Makes the folder and those above it; returns once the new names are on the disk. */
  readonly makeFolder: (folder: string) => Promise<void>
  /** Names of the files in a folder. */
  readonly list: (folder: string) => Promise<readonly string[]>
  readonly read: (path: string) => Promise<Uint8Array>
  /** Makes a file that must not exist yet; returns once its name is on the disk. */
  readonly create: (path: string) => Promise<JournalFile>
  /** Puts on the disk what another process has written to a file. */
  readonly settle: (path: string) => Promise<void>
  readonly freeBytes: (folder: string) => Promise<number>
}

export const nodeDisk: JournalDisk = {
  makeFolder: async (folder) => {
    await mkdir(folder, { recursive: true })
    await syncNames(folder)
  },
  list: async (folder) => (await readdir(folder)).toSorted(),
  read: async (path) => readFile(path),
  create: async (path) => {
    const handle = await open(path, constants.O_WRONLY | constants.O_CREAT | constants.O_EXCL, 0o644)
    try {
      await syncFolder(dirname(path))
    } catch (cause) {
      await handle.close()
      throw cause
    }
    return fileOf(handle)
  },
  settle: async (path) => {
    const handle = await open(path, SYNC_FLAGS)
    try {
      await handle.datasync()
    } finally {
      await handle.close()
    }
  },
  freeBytes: async (folder) => {
    const { bavail, bsize } = await statfs(folder)
    return bavail * bsize
  },
}

export function journalPath(folder: string, journal: string): string {
  return join(folder, `${journal}.journal`)
}

function fileOf(handle: FileHandle): JournalFile {
  return {
    append: async (bytes) => {
      const { bytesWritten } = await handle.write(bytes)
      // A short write is what a full disk looks like from here; going on would put a hole into the record.
      if (bytesWritten !== bytes.length) throw new Error(`only ${bytesWritten} of ${bytes.length} bytes were written`)
    },
    sync: () => handle.datasync(),
    close: () => handle.close(),
  }
}

/** Windows flushes only what is open for writing; elsewhere reading is enough. */
const SYNC_FLAGS = process.platform === 'win32' ? 'r+' : 'r'

/**
 * Puts the names on the way to a folder on the disk, as far as its file system goes. All of them, also where the folder stood there before: whoever made
 * it (a lock, a runner that was killed at once) may not have synced it, and a power cut would take every journal in it.
 */
async function syncNames(folder: string): Promise<void> {
  const { dev } = await stat(folder)
  for (let at = resolve(folder); dirname(at) !== at; at = dirname(at)) {
    const above = dirname(at)
    if ((await stat(above)).dev !== dev) return
    await syncFolder(above).catch((cause: unknown) => {
      // What this user may not look into was made by somebody else.
      if (!(cause instanceof Error && 'code' in cause && (cause.code === 'EACCES' || cause.code === 'EPERM'))) throw cause
    })
  }
}

async function syncFolder(folder: string): Promise<void> {
  // Windows has no handle for syncing a folder; its file systems journal names by themselves.
  if (process.platform === 'win32') return
  const handle = await open(folder, 'r')
  try {
    await handle.sync()
  } finally {
    await handle.close()
  }
}
