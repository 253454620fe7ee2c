// `rig doctor`: what this machine can and can't report, and whether a plan could run on it.
import { resolve } from 'node:path'
import { SpokenError, counted } from '@guardband/model'
import { createApprovalCheck, readApprovals } from '../approval-store.ts'
import { ceilingsPath, createCeilingCheck, readCeilings } from '../ceilings.ts'
import { mergeConditions } from '../conditions.ts'
import { captureConditions } from '../conditions-linux.ts'
import { approvalFindings, bootFinding, ceilingFinding, clockFinding, conditionFindings, diskFindings, findingLines, type Finding } from '../doctor.ts'
import { createFileHasher } from '../file-hash.ts'
import { systemdRuns } from '../install.ts'
import { nodeDisk } from '../journal-disk.ts'
import { defaultRigFolder } from '../rig-folder.ts'
import type { Terminal } from '../terminal.ts'
import { EXIT } from './exit.ts'
import { approvalsFile, baseEnvironment, machineSources, openPlan } from './plan-file.ts'

export interface DoctorArgs {
  readonly planFile?: string
  readonly folder?: string
}

/** Ends well where a plan could run; what can't be told is no fault. */
export async function doctor({ planFile, folder }: DoctorArgs, terminal: Terminal): Promise<number> {
  const opened = planFile === undefined ? null : openPlan(planFile)
  const sources = machineSources()
  const rigFolder = folder !== undefined ? resolve(folder) : opened === null || planFile === undefined ? process.cwd() : defaultRigFolder(planFile, opened.plan)
  const captured = process.platform === 'linux' ? captureConditions('/') : []
  const findings: Finding[] = [
    ...conditionFindings(captured),
    ...(process.platform === 'linux' ? [] : [{ about: 'conditions', is: 'lack', text: 'read by themselves on Linux only; write them into the plan' } as const]),
    ...(opened === null ? [] : mergeConditions(opened.plan.conditions, captured).remarks.map((text): Finding => ({ about: 'conditions', is: 'lack', text }))),
    clockFinding(sources.now()),
    bootFinding(sources.bootId),
    ...(await diskFindings(rigFolder, nodeDisk, sources.monotonic)),
    systemdRuns({ root: '/' }) ? { about: 'systemd', is: 'well', text: 'runs this machine: rig install lets a plan go on by itself' } : { about: 'systemd', is: 'lack', text: 'doesn\'t run this machine: after a restart a person, or something of your own, runs the plan again' },
    ...(process.getuid?.() === 0 ? [{ about: 'user', is: 'lack', text: 'this is the superuser: a plan runs so only with --as-root' } as const] : []),
    ...judged('ceilings', () => {
      const own = readCeilings(ceilingsPath(approvalsFile()))
      return ceilingFinding(own, opened?.plan ?? null, opened === null ? null : createCeilingCheck({ plan: opened.plan, own: () => own }))
    }),
    ...judged('approvals', () => {
      const store = readApprovals(approvalsFile())
      if (opened === null) return [{ about: 'approvals', is: 'well', text: `${counted(store.approvals.length, 'plan')} approved on this machine so far` }]
      return approvalFindings(opened.plan, createApprovalCheck({ store, planFolder: opened.planFolder, base: baseEnvironment(), hash: createFileHasher() }))
    }),
  ]
  for (const line of findingLines(findings)) terminal.say(line)
  const faults = findings.filter(({ is }) => is === 'fault').length
  const lacks = findings.filter(({ is }) => is === 'lack').length
  terminal.say(`${faults === 0 ? 'nothing stands in the way' : `! ${counted(faults, 'thing')} to see to first`}${lacks === 0 ? '' : `; - ${counted(lacks, 'thing')} to know`}`)
  return faults === 0 ? EXIT.well : EXIT.failed
}

/** A file that can't be trusted is a finding, not the end of the list. */
function judged(about: string, findings: () => readonly Finding[]): readonly Finding[] {
  try {
    return findings()
  } catch (cause) {
    if (!(cause instanceof SpokenError)) throw cause
    return [{ about, is: 'fault', text: cause.sentence }]
  }
}
