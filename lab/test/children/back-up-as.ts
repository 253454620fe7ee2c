// Started by a test as a process of its own: becomes another user where it may, backs a workspace up, and says how that ended.
import { randomFillSync } from 'node:crypto'
import { createIdFactory, SpokenError } from '@guardband/model'
import { openLab } from '../../index.ts'

const [user, folder, target] = process.argv.slice(2)
if (process.getuid?.() === 0) {
  process.setgid?.(Number(user))
  process.setuid?.(Number(user))
}
const lab = openLab(folder, { now: () => Date.now(), newId: createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void randomFillSync(bytes) }) })
const said = await lab.moving.backup(target).then(({ digest }) => digest, (error: unknown) => (error instanceof SpokenError ? error.sentence : String(error)))
process.stdout.write(`${said}\n`)
await lab.close()
