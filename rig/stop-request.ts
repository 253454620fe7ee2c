// A wish that a rig stops, as a file in its folder: it outlives restarts of the machine, and only a person at the rig takes it back.
import { closeSync, existsSync, fsyncSync, mkdirSync, openSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { syncNamesOf } from './sync-names.ts'

/** Returns once the wish is on the disk: the machine may go down at any moment, and must not go on after that. */
export function askToStop(rigFolder: string): void {
  mkdirSync(rigFolder, { recursive: true })
  const file = openSync(fileOf(rigFolder), 'w')
  try {
    writeFileSync(file, 'A person wants this rig to stop.\n')
    fsyncSync(file)
  } finally {
    closeSync(file)
  }
  syncNamesOf(rigFolder)
}

export function stopAsked(rigFolder: string): boolean {
  return existsSync(fileOf(rigFolder))
}

export function forgetStop(rigFolder: string): void {
  if (!stopAsked(rigFolder)) return
  rmSync(fileOf(rigFolder), { force: true })
  syncNamesOf(rigFolder)
}

function fileOf(rigFolder: string): string {
  return join(rigFolder, 'stop')
}
