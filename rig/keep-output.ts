// Keeps what a failed run printed: files beside the journals, named by their SHA-256, on the disk before the run's end names them.
import { createHash } from 'node:crypto'
import { join } from 'node:path'
import type { JournalBodyOf } from '@guardband/model'
import type { CapturedText, CommandEnd } from './command-driver.ts'
import type { RigContext } from './rig-context.ts'

export type Kept = NonNullable<JournalBodyOf<'end'>['kept']>

/** Never throws: an output that could not be kept is no reason to lose the end of a run. What could not be kept is not named. */
export async function keepOutput({ disk, rigFolder }: Pick<RigContext, 'disk' | 'rigFolder'>, { output, errorOutput }: CommandEnd): Promise<Kept> {
  const kept: Kept = []
  const folder = join(rigFolder, 'kept')
  for (const [what, captured] of [['output', output], ['error output', errorOutput]] as const) {
    if (captured.text === '') continue
    const { bytes, cut } = tailOf(captured)
    const sha256 = createHash('sha256').update(bytes).digest('hex')
    try {
      await disk.makeFolder(folder)
      const path = join(folder, sha256)
      // Runs fail alike. A file that a power cut tore stays as it is, and is not named again.
      if ((await disk.list(folder)).includes(sha256)) {
        if (!bytes.equals(await disk.read(path))) continue
        await disk.settle(path)
      } else {
        const file = await disk.create(path)
        try {
          await file.append(bytes)
          await file.sync()
        } finally {
          await file.close()
        }
      }
      kept.push({ what, sha256, bytes: bytes.length, ...(cut ? { cut } : {}) })
    } catch {
      // A disk in trouble shows at the journal's own next record, and stops the plan there.
    }
  }
  return kept
}

function tailOf({ text, cut }: CapturedText): { readonly bytes: Buffer; readonly cut: boolean } {
  const whole = Buffer.from(text)
  return whole.length <= KEPT_BYTES ? { bytes: whole, cut } : { bytes: whole.subarray(whole.length - KEPT_BYTES), cut: true }
}

/** The last words stand at the end; a night of failing runs must not fill the disk. */
const KEPT_BYTES = 64 * 1024
