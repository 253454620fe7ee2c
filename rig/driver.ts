// How a workload is carried out, as a port: a command, a person, or a kernel of the rig's own. Between `prepare` and `carryOut` its caller puts the run's beginning on disk.
import type { JournalBodyOf, PlanWorkload, SpokenError } from '@guardband/model'
import type { CapturedText } from './command-driver.ts'
import type { RigContext } from './rig-context.ts'

export interface Driver {
  /**
   * Whatever refuses a run refuses it here, before it begins: an approval that no longer holds, nobody there to ask, a kernel that is not there. Throws a
   * SpokenError then. Nothing of the run has happened when it returns.
   */
  readonly prepare: () => Promise<PreparedRun>
}

export interface PreparedRun {
  /**
   * Carries the run out, once, to its end. Resolves for every end of the run itself, however bad, and soon after the signal is aborted, with what was
   * measured until then. Nothing that it started is left at work.
   */
  readonly carryOut: (signal: AbortSignal, hooks: RunHooks) => Promise<DriverEnd>
}

export interface RunHooks {
  /** A process group that the run is at work in. */
  readonly onGroup: (pid: number) => void
}

type End = JournalBodyOf<'end'>
export type MeasureValue = End['measures'][number]
export type Exposure = NonNullable<End['exposure']>

/** What a run came to. */
export interface DriverEnd extends Pick<End, 'outcome' | 'seconds' | 'exitStatus' | 'signal'> {
  readonly measures: readonly MeasureValue[]
  readonly exposure?: Exposure
  readonly phase?: NonNullable<End['phase']>
  /** What failed: a core, a channel, an address. */
  readonly place?: string
  /** Null where nothing prints. */
  readonly output: CapturedText | null
  readonly errorOutput: CapturedText | null
  /** That a person sent along. */
  readonly pictures: readonly Uint8Array[]
  readonly message: string | null
  /** Why the plan can't go on after this run: whoever was asked has gone. */
  readonly stop?: SpokenError
}

/** What an end says where its driver has nothing to say. */
export const NOTHING_MORE = { measures: [], exitStatus: null, signal: null, output: null, errorOutput: null, pictures: [], message: null } as const

export interface DriverOrder {
  readonly context: RigContext
  readonly workload: PlanWorkload
  /** The run's step, for whoever is asked. */
  readonly step: string
}
