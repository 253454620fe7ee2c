// Runs in a worker thread: reads a table and writes its records over a connection of its own. What it drew up last is kept, so that taking in what was just looked at only writes.
import { randomFillSync } from 'node:crypto'
import { canonicalJson, createIdFactory, SpokenError, type IntakeReply } from '@guardband/model'
import type { LabCore } from './lab-core.ts'
import { DOINGS, SIGNALS, type Doing, type IntakeTask, type IntakeTaskReply } from './intake/intake-task.ts'
import { drawIntake, intakeCancelled, writeIntake, type DrawnIntake, type RunsIntake } from './intake/table/intake-runs.ts'
import { createChangeLog } from './store/change-log.ts'
import { openDatabase } from './store/database.ts'
import { createRecordStore } from './store/record-store.ts'
import { speakDatabaseErrors } from './store/speak-database-errors.ts'

export default function takeIn(task: IntakeTask): IntakeTaskReply {
  try {
    return { kind: 'reply', reply: withCore(task.folder, (core) => takeWith(core, task)) }
  } catch (error) {
    last = undefined
    if (!(error instanceof SpokenError)) throw error
    const { code, message, place, mend } = error
    return { kind: 'refused', error: { code, message, ...(place === undefined ? {} : { place }), ...(mend === undefined ? {} : { mend }) } }
  }
}

/** Moves what was written from the write-ahead log into the database, without waiting for readers. */
export function settle(folder: string): void {
  last = undefined
  const db = openDatabase(folder, 'existing')
  try {
    db.pragma('wal_checkpoint(PASSIVE)')
  } finally {
    db.close()
  }
}

interface Last {
  readonly key: string
  readonly drawn: DrawnIntake
}

let last: Last | undefined

function takeWith(core: LabCore, task: IntakeTask): IntakeReply {
  const signals = new Int32Array(task.signals)
  const onProgress = (doing: Doing, done: number): void => {
    if (Atomics.load(signals, SIGNALS.stop) === 1) throw intakeCancelled()
    Atomics.store(signals, SIGNALS.doing, DOINGS.indexOf(doing))
    Atomics.store(signals, SIGNALS.done, Math.round(done * 1000))
  }
  const input: RunsIntake = {
    text: task.bytes, file: task.file, who: task.who, only: task.only, choices: task.choices, onProgress,
    ...(task.remember === undefined ? {} : { remember: task.remember }),
    ...(task.homeZone === undefined ? {} : { homeZone: task.homeZone }),
  }
  onProgress('reading', 0)
  // The layout to be remembered is a record too, so it belongs to what is drawn.
  const key = canonicalJson([task.folder, task.id, task.choices, task.only === 'preview' ? null : (task.remember ?? null)])
  const drawn = last?.key === key && last.drawn.head === core.log.head() ? last.drawn : drawIntake(core, input)
  last = { key, drawn }
  if (task.only === 'preview') return drawn.reply
  const reply = writeIntake(core, input, drawn)
  if (reply.taken) last = undefined
  return reply
}

function withCore<Result>(folder: string, work: (core: LabCore) => Result): Result {
  return speakDatabaseErrors(folder, () => {
    const db = openDatabase(folder, 'existing')
    try {
      db.pragma(`cache_size = -${CACHE_KB}`)
      // A large change would fill the database page by page while its writer waits; `settle` does it after the reply.
      db.pragma('wal_autocheckpoint = 0')
      const store = createRecordStore(db)
      const sources = { now: () => Date.now(), newId }
      const log = createChangeLog(db, store, sources.now)
      return work({ folder, db, store, log, sources, transact: (inside) => (db.inTransaction ? inside() : db.transaction(inside).immediate()) })
    } finally {
      db.close()
    }
  })
}

/** Holds the pages of a large change until its commit, so that none is written twice. */
const CACHE_KB = 512 * 1024

const newId = createIdFactory({ now: () => Date.now(), fillRandom: fillFromPool })

/** Random bytes come in one draw for many ids. */
const randomPool = new Uint8Array(64 * 1024)
let poolUsed = randomPool.length

function fillFromPool(bytes: Uint8Array): void {
  if (poolUsed + bytes.length > randomPool.length) {
    randomFillSync(randomPool)
    poolUsed = 0
  }
  bytes.set(randomPool.subarray(poolUsed, poolUsed + bytes.length))
  poolUsed += bytes.length
}
