/** Builds the page where it is stale, as a check of its own: a page that can't be built is one failure among others. */
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { withLock } from './launch/lock.mjs'
import { findRuntime } from './launch/runtime.mjs'
import { buildWeb, isWebBuilt } from './launch/web.mjs'

const root = dirname(dirname(fileURLToPath(import.meta.url)))
const say = (line: string) => console.log(line)
const runtime = findRuntime(root)
if (runtime === undefined) throw new Error('Node must be 24 or newer; run this through launch.mjs')
if (!isWebBuilt(root)) {
  try {
    await withLock(join(root, '.runtime', 'lock'), say, (lock) => buildWeb({ root, say, lock, runtime }))
  } catch (error) {
    console.log(error instanceof Error ? error.message : String(error))
    process.exitCode = 1
  }
}
