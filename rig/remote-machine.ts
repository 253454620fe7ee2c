// A machine under test that runs nothing of ours: this rig stands beside it, asks it by a command which boot it is in, and brings it back by approved commands.
import type { Command, PlanMachine, Reading, StartHow } from '@guardband/model'
import type { CommandEnd } from './command-driver.ts'
import type { Machine, MachineAfter } from './machine.ts'
import type { ReadingResult } from './reading.ts'

export interface RemoteSources {
  /** Checks the approval and runs the command. */
  readonly execute: (command: Command) => Promise<CommandEnd>
  readonly read: (reading: Reading, end: CommandEnd) => Promise<ReadingResult>
  /** Seconds from a clock that never steps. */
  readonly monotonic: () => number
  readonly sleep: (milliseconds: number) => Promise<void>
}

export function createRemoteMachine({ boot, silenceSeconds, powerOn, recover, recoverSeconds }: PlanMachine, { execute, read, monotonic, sleep }: RemoteSources): Machine {
  const bootNow = async (): Promise<string | null> => {
    const end = await execute(boot.command)
    if (end.how !== 'ended' || end.exitStatus !== 0) return null
    const found = await read(boot.reading, end)
    return found.kind === 'value' && found.text.trim() !== '' ? found.text.trim() : null
  }
  /** Null when it has not answered so within the time. */
  const answers = async (seconds: number, wanted: (boot: string) => boolean): Promise<string | null> => {
    for (const until = monotonic() + seconds; ; await sleep(LOOK_MS)) {
      const now = await bootNow()
      if (now !== null && wanted(now)) return now
      if (monotonic() >= until) return null
    }
  }
  const commandFor = (how: StartHow): Command | undefined => (how === 'cold' ? powerOn.cold : how === 'warm' ? powerOn.warm : undefined)
  return {
    boot: bootNow,
    afterTrouble: async (before): Promise<MachineAfter> => {
      const now = await answers(silenceSeconds, () => true)
      if (now !== null) return now === before ? { kind: 'same' } : { kind: 'restarted', boot: now }
      const told = [`it did not answer for ${silenceSeconds} s`]
      for (const command of recover) {
        const end = await execute(command)
        told.push(`${command.run.join(' ').slice(0, SHOWN)} ${endText(end)}`)
        const back = await answers(recoverSeconds, () => true)
        if (back === null) continue
        told.push('then it answered again')
        return { kind: 'hung', boot: back, told }
      }
      return { kind: 'hung', boot: null, told: [...told, recover.length === 0 ? 'the plan names nothing that could bring it back' : 'nothing brought it back'] }
    },
    power: {
      can: (how) => commandFor(how) !== undefined,
      up: async (how, before) => {
        const command = commandFor(how)
        if (command === undefined) throw new RangeError(`a ${how} start must have a command; got none`)
        const end = await execute(command)
        // A switch that failed has switched nothing, whatever the machine says next.
        if (end.how !== 'ended' || end.exitStatus !== 0) return null
        return answers(recoverSeconds, (boot) => boot !== before)
      },
    },
  }
}

/** Between two looks at a machine that does not answer. */
const LOOK_MS = 1000
const SHOWN = 200

function endText({ how, exitStatus, signal }: CommandEnd): string {
  if (how === 'time limit') return 'was ended after its time limit'
  if (how === 'not started') return 'did not start'
  return `ended with ${exitStatus === null ? `signal ${signal ?? 'unknown'}` : `status ${exitStatus}`}`
}
