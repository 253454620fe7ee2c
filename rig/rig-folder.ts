// Where a plan's journals live unless a person says otherwise, and what lies beside them.
import { dirname, join, resolve } from 'node:path'
import type { Plan } from '@guardband/model'

/** `rig-<plan id>` beside the plan file; what a file name can't hold becomes a hyphen. */
export function defaultRigFolder(planFile: string, plan: Plan): string {
  return join(dirname(resolve(planFile)), `rig-${slugOf(plan.id)}`)
}

/** As the name of a file or folder: what can't stand in one becomes a hyphen. */
export function slugOf(id: string): string {
  return id.replace(/[^\p{L}\p{N}._-]+/gu, '-')
}

/** What failed runs printed, and pictures of them. */
export function keptFolderOf(rigFolder: string): string {
  return join(rigFolder, 'kept')
}
