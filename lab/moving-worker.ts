// Runs in a worker thread of its own for one task: an import, an export, a backup, a check. It ends with the task, and its memory goes with it.
import { randomFillSync } from 'node:crypto'
import { parentPort, workerData } from 'node:worker_threads'
import { createIdFactory, SpokenError, type SpokenErrorParts } from '@guardband/model'
import { backupFolderTo, checkFolder } from './moving/backup.ts'
import { exportStream } from './moving/export-stream.ts'
import { importFile } from './moving/import-file.ts'
import type { FromThread, MovingProgress, MovingResults, MovingTask, ThreadStart, ToThread } from './moving/moving-task.ts'
import { spokenDatabaseError } from './store/speak-database-errors.ts'

// Only the moving desk starts this file, and always with these.
const { task, stop } = workerData as ThreadStart
const stopped = new Int32Array(stop)
// oxlint-disable-next-line unicorn/require-post-message-target-origin -- a thread has no origin; only windows do
const post = (message: FromThread): void => parentPort?.postMessage(message)
const asked = askedPieces()

try {
  post({ kind: 'done', result: await run(task) })
} catch (error) {
  post({ kind: 'refused', error: spokenParts(task, error) })
} finally {
  parentPort?.close()
}

async function run(work: MovingTask): Promise<MovingResults[MovingTask['kind']]> {
  switch (work.kind) {
    case 'import':
      return importFile(work.input, { now: () => Date.now(), newId: createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void randomFillSync(bytes) }) }, tell)
    case 'backup':
      return backupFolderTo(work)
    case 'check':
      return checkFolder(work.folder)
    case 'export':
      await sendExport(work)
      return null
  }
}

async function sendExport(work: MovingTask & { kind: 'export' }): Promise<void> {
  const stream = await exportStream(work.folder, work)
  const closed = new Promise<void>((resolve) => stream.once('close', resolve))
  post({ kind: 'ready' })
  const pieces = (stream as AsyncIterable<Buffer | string>)[Symbol.asyncIterator]()
  while ((await asked()) === 'more') {
    const { done, value } = await pieces.next()
    if (done === true) break
    // A copy of its own: a piece of a larger buffer would take all of that along.
    const bytes = typeof value === 'string' ? new TextEncoder().encode(value) : new Uint8Array(value)
    // oxlint-disable-next-line unicorn/require-post-message-target-origin -- a thread has no origin; only windows do
    parentPort?.postMessage({ kind: 'piece', bytes } satisfies FromThread, [bytes.buffer])
  }
  stream.destroy()
  await closed
}

/** Resolves with what the other side asks for next. */
function askedPieces(): () => Promise<ToThread> {
  const waiting: ToThread[] = []
  let wake: (() => void) | undefined
  parentPort?.on('message', (message: ToThread) => {
    waiting.push(message)
    wake?.()
  })
  return async () => {
    while (waiting.length === 0) await new Promise<void>((resolve) => (wake = resolve))
    return waiting.includes('stop') ? 'stop' : (waiting.shift() ?? 'stop')
  }
}

function tell(progress: MovingProgress): void {
  if (Atomics.load(stopped, 0) === 1) throw new SpokenError({ code: 'import-cancelled', message: 'the import was cancelled; no workspace was made of it.' })
  post({ kind: 'progress', progress })
}

/** What this program does not foresee ends the thread with its own error. */
function spokenParts(work: MovingTask, error: unknown): SpokenErrorParts {
  const spoken = spokenDatabaseError('folder' in work ? work.folder : work.input.into, error)
  if (!(spoken instanceof SpokenError)) throw error
  const { code, message, place, mend } = spoken
  return { code, message, ...(place === undefined ? {} : { place }), ...(mend === undefined ? {} : { mend }) }
}
