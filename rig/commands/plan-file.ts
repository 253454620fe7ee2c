// What the commands share: the plan file, this machine's clock and ids, the person's approvals.
import { readFileSync, statSync } from 'node:fs'
import { homedir, uptime, userInfo } from 'node:os'
import { dirname, resolve } from 'node:path'
import { setTimeout } from 'node:timers/promises'
import { SpokenError, createIdFactory, type Plan } from '@guardband/model'
import { approvalsPath } from '../approval-store.ts'
import type { BaseEnvironment } from '../approvals.ts'
import { readBootId } from '../boot-id.ts'
import { readPlan } from '../read-plan.ts'
import type { RigSources } from '../rig-context.ts'

export function openPlan(planFile: string): { readonly plan: Plan; readonly planFolder: string } {
  let text: string
  try {
    const bytes = statSync(planFile).size
    if (bytes > LARGEST_PLAN) throw new SpokenError({ code: 'plan-too-big', place: planFile, message: `a plan has at most ${LARGEST_PLAN / 1024 / 1024} MB; this has ${Math.ceil(bytes / 1024 / 1024)}.`, mend: 'Spare listing the steps with a design, or cut the plan in parts.' })
    text = readFileSync(planFile, 'utf8')
  } catch (cause) {
    if (cause instanceof SpokenError) throw cause
    throw new SpokenError({ code: 'plan-unreadable', place: planFile, message: `${unreadable(cause)}.`, mend: 'Name the plan file as it is from this folder.' })
  }
  return { plan: readPlan(text, planFile), planFolder: dirname(resolve(planFile)) }
}

/** 100,000 listed steps, the most that a plan may have, take about half of it. */
const LARGEST_PLAN = 16 * 1024 * 1024

/** The machine's own clock, ids and boot. */
export function machineSources(): RigSources {
  return {
    now: wallClock,
    monotonic: () => performance.now() / 1000,
    newId: createIdFactory({ now: wallClock, fillRandom: (bytes) => void crypto.getRandomValues(bytes) }),
    bootId: readBootId(wallClock),
    uptime,
    sleep: (milliseconds, signal) => setTimeout(milliseconds, undefined, { signal }),
  }
}

function wallClock(): number {
  return Date.now()
}

export function approvalsFile(): string {
  return approvalsPath(process.env, homedir())
}

export function baseEnvironment(): BaseEnvironment {
  return { PATH: process.env['PATH'] ?? '', HOME: homedir() }
}

export function refuseRoot(asRoot: boolean): void {
  if (asRoot || process.getuid?.() !== 0) return
  throw new SpokenError({
    code: 'as-root',
    place: userInfo().username,
    message: 'a plan runs with the least rights that it needs: as root a mistake in one of its commands can harm the whole machine.',
    mend: 'Run it as an ordinary user; where the tune itself needs root, say so with --as-root.',
  })
}

function unreadable(cause: unknown): string {
  const code = cause instanceof Error && 'code' in cause ? cause.code : undefined
  if (code === 'ENOENT' || code === 'ENOTDIR') return 'there is no such file'
  if (code === 'EISDIR') return 'this is a folder; a plan is a file'
  return `this plan can't be read (${cause instanceof Error ? cause.message : String(cause)})`
}
