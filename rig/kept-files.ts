// Keeps what a failed run printed, and pictures of it: whole files beside the journals, named by their SHA-256, on the disk before the end that names them.
import { createHash } from 'node:crypto'
import { join } from 'node:path'
import { COMPARABLE_OUTCOMES, KEPT_LIMIT, NEUTRAL_OUTCOMES, counted, type JournalBodyOf, type Outcome } from '@guardband/model'
import type { CapturedText } from './command-driver.ts'
import type { DriverEnd } from './driver.ts'
import { keptFolderOf } from './rig-folder.ts'
import type { RigContext } from './rig-context.ts'
import { writeWhole } from './write-whole.ts'

type KeptFile = NonNullable<JournalBodyOf<'end'>['kept']>[number]

export interface Kept {
  readonly files: readonly KeptFile[]
  /** Why something of it could not be kept; null where all of it is. */
  readonly fault: string | null
}

/** Nothing that goes wrong here may cost the run its end: it never rejects. */
export async function keepFilesOf(context: Pick<RigContext, 'rigFolder' | 'disk' | 'sources'>, { output, errorOutput, pictures }: DriverEnd, outcome: Outcome): Promise<Kept> {
  const failed = !COMPARABLE_OUTCOMES.has(outcome) && !NEUTRAL_OUTCOMES.has(outcome)
  // A picture was sent on purpose, however the run ended.
  const wanted = [...(failed ? [...printed('output', output), ...printed('error output', errorOutput)] : []), ...pictures.map((bytes) => ({ what: 'picture' as const, bytes, cut: false }))].filter(({ bytes }) => bytes.length > 0)
  const files: KeptFile[] = []
  const faults: string[] = []
  for (const { what, bytes, cut } of wanted) {
    if (files.length === MOST_FILES) {
      faults.push(`of ${counted(wanted.length, 'file')} only ${MOST_FILES} are kept`)
      break
    }
    try {
      if (bytes.length > KEPT_LIMIT) throw new Error(`it must be at most ${KEPT_LIMIT / 1024 / 1024} MiB; got ${bytes.length} bytes`)
      const sha256 = await keepOne(context, bytes)
      files.push({ what, sha256, bytes: bytes.length, ...(cut ? { cut } : {}) })
    } catch (cause) {
      faults.push(`its ${what} could not be kept: ${cause instanceof Error ? cause.message : String(cause)}`)
    }
  }
  return { files, fault: faults.length === 0 ? null : faults.join('; ') }
}

/** As an end's record allows. */
const MOST_FILES = 20

function printed(what: 'output' | 'error output', caught: CapturedText | null): readonly { readonly what: 'output' | 'error output'; readonly bytes: Uint8Array; readonly cut: boolean }[] {
  return caught === null ? [] : [{ what, bytes: caught.bytes, cut: caught.cut }]
}

/** The same content once. */
async function keepOne({ rigFolder, disk, sources }: Pick<RigContext, 'rigFolder' | 'disk' | 'sources'>, bytes: Uint8Array): Promise<string> {
  const sha256 = hashOf(bytes)
  const folder = keptFolderOf(rigFolder)
  const path = join(folder, sha256)
  await disk.makeFolder(folder)
  if ((await disk.list(folder)).includes(sha256)) {
    if (hashOf(await disk.read(path)) === sha256) await disk.settle(path)
    // One that a power cut tore, or a bad memory or disk has spoiled since, is written anew.
    else writeWhole({ path, content: bytes, mode: 0o644 }, sources.newId)
    return sha256
  }
  const file = await disk.create(path)
  try {
    await file.append(bytes)
    await file.sync()
  } finally {
    await file.close()
  }
  return sha256
}

function hashOf(bytes: Uint8Array): string {
  return createHash('sha256').update(bytes).digest('hex')
}
