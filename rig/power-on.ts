// Starts that need the machine powered off and on. A rig can't do that to itself: it says so, stops, and recognises the power-on when it is run again.
import { readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { SpokenError } from '@guardband/model'
import { sameBoot } from './boot-id.ts'
import type { StartStep } from './step-source.ts'
import { syncNamesOf } from './sync-names.ts'
import { writeWhole } from './write-whole.ts'

export interface PowerOnSources {
  readonly rigFolder: string
  readonly bootId: string
  readonly newId: () => string
}

/** True when the machine has been started anew since this start was asked for. */
export function powerOnSeen(change: StartStep, { rigFolder, bootId }: PowerOnSources): boolean {
  const asked = readAsked(fileOf(rigFolder))
  return asked !== null && asked.step === change.id && !sameBoot(asked.bootId, bootId)
}

/** It counts once, and is used up before the start opens: should the program die in between, another power-on is asked for rather than one counted twice. */
export function useUpPowerOn({ rigFolder }: PowerOnSources): void {
  rmSync(fileOf(rigFolder))
  syncNamesOf(rigFolder)
}

/** Notes that a power-on was asked for and stops with the sentence that asks. The tune's apply command, if any, has run before. */
export function askPowerOn(change: StartStep, applied: boolean, { rigFolder, bootId, newId }: PowerOnSources): never {
  writeWhole({ path: fileOf(rigFolder), content: `${JSON.stringify({ step: change.id, bootId })}\n`, mode: 0o644 }, newId)
  const tune = applied ? `the tune "${change.tune}" has been set` : `put the tune "${change.tune}" in force`
  throw new SpokenError({
    code: 'power-on-needed',
    place: `step ${change.id}`,
    message: `this start is a ${change.start} one: ${tune}, then ${HOW[change.start]}.`,
    mend: 'Run the plan again after that; it goes on with this start.',
  })
}

const HOW: Readonly<Record<StartStep['start'], string>> = {
  cold: 'power the machine off, wait, and power it on',
  warm: 'restart the machine',
  restored: 'restart the machine so that it restores its memory training',
  live: 'run the plan again',
}

function fileOf(rigFolder: string): string {
  return join(rigFolder, 'power-on.json')
}

function readAsked(path: string): { readonly step: string; readonly bootId: string } | null {
  try {
    const { step, bootId }: Record<string, unknown> = JSON.parse(readFileSync(path, 'utf8'))
    return typeof step === 'string' && typeof bootId === 'string' ? { step, bootId } : null
  } catch {
    // Absent or unreadable: nothing was asked for that could be relied on.
    return null
  }
}
