// Puts a small file in place whole or not at all, and on the disk before it returns.
import { closeSync, fsyncSync, openSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { dirname } from 'node:path'
import { syncNamesOf } from './sync-names.ts'

export interface WholeFile {
  readonly path: string
  readonly content: string | Uint8Array
  readonly mode: number
}

export function writeWhole({ path, content, mode }: WholeFile, newId: () => string): void {
  const draft = `${path}.${newId()}`
  const file = openSync(draft, 'wx', mode)
  try {
    writeFileSync(file, content)
    fsyncSync(file)
  } catch (cause) {
    rmSync(draft, { force: true })
    throw cause
  } finally {
    closeSync(file)
  }
  renameSync(draft, path)
  syncNamesOf(dirname(path))
}
