// Tables that are being taken in: their bytes are kept for a while, read and written in a thread of their own with its own connection, so that the hub stays free.
import { availableParallelism } from 'node:os'
import { Piscina } from 'piscina'
import { SpokenError, type IntakeChoices, type IntakeReply } from '@guardband/model'
import { DOINGS, SIGNALS, type Doing, type IntakeTask, type IntakeTaskReply } from './intake-task.ts'

export interface IntakeDesk {
  /** Keeps the bytes under this id and looks at them. */
  readonly send: (file: SentTable) => Promise<IntakeReply>
  readonly look: (id: string, how: { readonly choices: IntakeChoices }) => Promise<IntakeReply>
  /** `remember` names the layout under which tables with this header are read like this from now on. */
  readonly take: (id: string, how: { readonly choices: IntakeChoices; readonly remember?: string | undefined; readonly who: string }) => Promise<IntakeReply>
  readonly progress: (id: string) => { readonly doing: Doing; readonly done: number }
  /** Stops what is under way, of which nothing stays, and lets the bytes go. */
  readonly cancel: (id: string) => boolean
  readonly close: () => Promise<void>
}

export interface SentTable {
  readonly id: string
  readonly bytes: Uint8Array
  readonly file: string
  readonly who: string
  readonly homeZone?: string | undefined
}

interface Kept extends SentTable {
  readonly signals: Int32Array<SharedArrayBuffer>
  usedAt: number
  working: number
}

export function createIntakeDesk(folder: string, now: () => number): IntakeDesk {
  const kept = new Map<string, Kept>()
  let pool: Piscina | undefined
  const worker = (): Piscina =>
    (pool ??= new Piscina({
      filename: WORKER.href,
      minThreads: 0,
      // One at a time: two would wait for each other's lock anyway.
      maxThreads: 1,
      idleTimeout: IDLE_MS,
      execArgv: [],
      resourceLimits: { maxYoungGenerationSizeMb: availableParallelism() > 1 ? YOUNG_MB : SMALL_YOUNG_MB, maxOldGenerationSizeMb: OLD_MB },
    }))

  const keptTable = (id: string): Kept => {
    const table = kept.get(id)
    if (table === undefined) throw new SpokenError({ code: 'no-upload', message: 'the file is not kept any more.', mend: 'Choose it again.' })
    table.usedAt = now()
    return table
  }
  const letOldGo = (): void => {
    const idle = [...kept.values()].filter(({ working }) => working === 0).toSorted((a, b) => a.usedAt - b.usedAt)
    for (const table of idle) if (kept.size > MOST_KEPT || now() - table.usedAt > KEPT_MS) kept.delete(table.id)
  }
  const run = async (table: Kept, how: Pick<IntakeTask, 'only' | 'choices' | 'remember' | 'who'>): Promise<IntakeReply> => {
    table.working += 1
    try {
      const task: IntakeTask = { folder, id: table.id, bytes: table.bytes, file: table.file, homeZone: table.homeZone, signals: table.signals.buffer, ...how }
      // What the worker's default export returns.
      const reply = (await worker().run(task)) as IntakeTaskReply
      if (reply.kind === 'refused') throw new SpokenError(reply.error)
      if (reply.reply.taken) void settle()
      return reply.reply
    } finally {
      table.working -= 1
      table.usedAt = now()
      if (table.working === 0) for (const place of [SIGNALS.doing, SIGNALS.done]) Atomics.store(table.signals, place, 0)
    }
  }
  /** What was written moves from the log into the database before somebody's next small change has to do it. */
  const settle = async (): Promise<void> => {
    try {
      await worker().run(folder, { name: 'settle' })
    } catch {
      // The next change does it, or the closing of the workspace.
    }
  }

  return {
    send: (file) => {
      if (kept.has(file.id)) throw new SpokenError({ code: 'upload-twice', message: 'a file is kept under this id already.', mend: 'Send it under an id of its own.' })
      const table: Kept = { ...file, signals: new Int32Array(new SharedArrayBuffer(Int32Array.BYTES_PER_ELEMENT * SIGNALS.count)), usedAt: now(), working: 0 }
      kept.set(file.id, table)
      letOldGo()
      return run(table, { only: 'preview', choices: {}, remember: undefined, who: file.who })
    },
    look: (id, { choices }) => {
      const table = keptTable(id)
      return run(table, { only: 'preview', choices, remember: undefined, who: table.who })
    },
    take: (id, { choices, remember, who }) => run(keptTable(id), { only: 'take', choices, remember, who }),
    progress: (id) => {
      const { signals } = keptTable(id)
      return { doing: DOINGS[Atomics.load(signals, SIGNALS.doing)] ?? 'nothing', done: Atomics.load(signals, SIGNALS.done) / 1000 }
    },
    cancel: (id) => {
      const table = kept.get(id)
      if (table === undefined) return false
      Atomics.store(table.signals, SIGNALS.stop, 1)
      kept.delete(id)
      return table.working > 0
    },
    close: async () => {
      for (const table of kept.values()) Atomics.store(table.signals, SIGNALS.stop, 1)
      kept.clear()
      await pool?.close({ force: false })
    },
  }
}

const WORKER = new URL('../intake-worker.ts', import.meta.url)
/** A person who looks at a preview and goes to find out which sample it was comes back within this. */
const KEPT_MS = 30 * 60_000
const MOST_KEPT = 4
/** The thread holds what it drew up; without work it ends and frees it. */
const IDLE_MS = 5 * 60_000
/** Rows live until they are written: in a small nursery each would be copied several times. */
const YOUNG_MB = 384
const SMALL_YOUNG_MB = 64
const OLD_MB = 4096
