// A wish that a rig stops, as a file in its folder: it outlives restarts of the machine, and only a person at the rig takes it back.
import { existsSync, mkdirSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'

export function askToStop(rigFolder: string): void {
  mkdirSync(rigFolder, { recursive: true })
  writeFileSync(fileOf(rigFolder), 'A person wants this rig to stop.\n')
}

export function stopAsked(rigFolder: string): boolean {
  return existsSync(fileOf(rigFolder))
}

export function forgetStop(rigFolder: string): void {
  rmSync(fileOf(rigFolder), { force: true })
}

function fileOf(rigFolder: string): string {
  return join(rigFolder, 'stop')
}
