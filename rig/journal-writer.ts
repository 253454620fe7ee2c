// Writes one journal: one file a start, a hash chain, synced where it acknowledges. Rules in @guardband/model, JOURNAL.md.
import { FIRST_PREVIOUS, SpokenError, encodeRecord, type JournalBody, type JournalBodyOf } from '@guardband/model'
import { journalPath, type JournalDisk } from './journal-disk.ts'

/** Free space below which no step begins. A start's records take far less; the rest is for what workloads write beside them. */
export const FREE_BYTES_FLOOR = 64 * 1024 * 1024

export interface JournalWriter {
  readonly journal: string
  readonly path: string
  /** Writes records and returns once they are on the disk: what it returns from is acknowledged. */
  readonly writeSynced: (...bodies: readonly JournalBody[]) => Promise<void>
  /** Writes a record that may be lost (a heartbeat). */
  readonly write: (body: JournalBody) => Promise<void>
  /** Throws `disk-full` when the disk has less than the floor left. */
  readonly reserve: () => Promise<void>
  /** The last record, synced, and the file closed. */
  readonly close: (reason: JournalBodyOf<'close'>) => Promise<void>
  /** Lets go of the file without another word: the way out after a failure. */
  readonly abandon: () => Promise<void>
  /** Hash of the last record written. */
  readonly lastHash: () => string
  /** Aborted by the first write or sync that fails; nothing is written after it. */
  readonly failed: AbortSignal
}

export interface OpenJournal {
  readonly disk: JournalDisk
  readonly folder: string
  readonly open: JournalBodyOf<'open'> | JournalBodyOf<'watch'>
  /** Records that come straight after the opening one and are acknowledged with it. */
  readonly first: readonly JournalBody[]
}

/** Makes the file and returns once its opening record is on the disk. */
export async function openJournal({ disk, folder, open, first }: OpenJournal): Promise<JournalWriter> {
  const path = journalPath(folder, open.journal)
  const failure = new AbortController()
  await reserveSpace(disk, folder)
  const file = await disk.create(path).catch((cause: unknown) => {
    throw journalFailure(path, cause)
  })
  let sequence = 0
  let hash = FIRST_PREVIOUS
  let queue: Promise<void> = Promise.resolve()

  /** One after the other: heartbeats come from a timer. The first failure is the last thing that happens to the file. */
  const inTurn = (work: () => Promise<void>): Promise<void> => {
    const turn = afterQueue(queue, async () => {
      failure.signal.throwIfAborted()
      try {
        await work()
      } catch (cause) {
        const spoken = journalFailure(path, cause)
        failure.abort(spoken)
        throw spoken
      }
    })
    queue = turn.catch(() => {})
    return turn
  }
  const append = async (bodies: readonly JournalBody[]) => {
    const lines = bodies.map((body) => {
      const line = encodeRecord(sequence, hash, body)
      sequence += 1
      hash = line.hash
      return line.bytes
    })
    await file.append(Buffer.concat(lines))
  }
  const writer: JournalWriter = {
    journal: open.journal,
    path,
    writeSynced: (...bodies) =>
      inTurn(async () => {
        await append(bodies)
        await file.sync()
      }),
    write: (body) => inTurn(() => append([body])),
    reserve: () => reserveSpace(disk, folder),
    close: async (reason) => {
      await writer.writeSynced(reason)
      await inTurn(() => file.close())
    },
    abandon: async () => {
      await queue
      // The file is as good or bad as it will ever be; an error in letting go changes nothing.
      await file.close().catch(() => {})
    },
    lastHash: () => hash,
    failed: failure.signal,
  }
  try {
    await writer.writeSynced(open, ...first)
  } catch (cause) {
    await writer.abandon()
    throw cause
  }
  return writer
}

async function afterQueue(queue: Promise<void>, work: () => Promise<void>): Promise<void> {
  await queue
  await work()
}

async function reserveSpace(disk: JournalDisk, folder: string): Promise<void> {
  const free = await disk.freeBytes(folder)
  if (free >= FREE_BYTES_FLOOR) return
  throw new SpokenError({
    code: 'disk-full',
    place: folder,
    message: `a step begins only with ${mebibytes(FREE_BYTES_FLOOR)} MiB free on the disk; got ${mebibytes(free)} MiB.`,
    mend: 'Make room, then run the plan again: it goes on where it stopped.',
  })
}

function mebibytes(bytes: number): string {
  return (bytes / 1024 / 1024).toFixed(0)
}

/** The sentence for a disk that failed under a journal. */
export function journalFailure(path: string, cause: unknown): SpokenError {
  const reason = cause instanceof Error ? cause.message : String(cause)
  return new SpokenError({
    code: 'journal-failed',
    place: path,
    message: `the journal could not be written (${reason}), so the plan stops here.`,
    mend: 'See to the disk first. What was acknowledged before is kept; running the plan again opens a new journal.',
  })
}
