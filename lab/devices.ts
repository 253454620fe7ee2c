// Phones and rigs that were let in through the second listener. Of each device's token only the digest is kept.
import { SpokenError, type Device } from '@guardband/model'
import type { LabDatabase } from './store/database.ts'

export interface DeviceBook {
  /** All that were ever let in, newest first. */
  readonly list: () => readonly Device[]
  /** Keeps a new device on disk, then returns it. */
  readonly add: (device: { readonly name: string; readonly tokenHash: string }) => Device
  /** The device that this digest belongs to, unless it was revoked. */
  readonly find: (tokenHash: string) => Device | undefined
  /** Notes that it was here; at most once a minute reaches the disk. */
  readonly saw: (id: string) => void
  /** From now on its token opens nothing. Again does no harm. */
  readonly revoke: (id: string) => Device
}

export function createDeviceBook(db: LabDatabase, sources: { readonly now: () => number; readonly newId: () => string }): DeviceBook {
  const all = db.prepare<[], Device>(`${SELECT} ORDER BY made DESC, id DESC`)
  const byId = db.prepare<[string], Device>(`${SELECT} WHERE id = ?`)
  const byToken = db.prepare<[string], Device>(`${SELECT} WHERE token_hash = ? AND revoked IS NULL`)
  const put = db.prepare('INSERT INTO device (id, name, token_hash, made) VALUES (?, ?, ?, ?)')
  const setSeen = db.prepare('UPDATE device SET seen = ? WHERE id = ?')
  const setRevoked = db.prepare('UPDATE device SET revoked = ? WHERE id = ? AND revoked IS NULL')
  const moment = (): string => new Date(sources.now()).toISOString()

  const get = (id: string): Device => {
    const device = byId.get(id)
    if (device === undefined) throw new SpokenError({ code: 'no-device', message: `there is no device ${id} in this workspace.`, mend: 'Choose one from the list of devices.' })
    return device
  }
  return {
    list: () => all.all(),
    add: ({ name, tokenHash }) => {
      const id = sources.newId()
      put.run(id, name, tokenHash, moment())
      return get(id)
    },
    find: (tokenHash) => byToken.get(tokenHash),
    saw: (id) => {
      const { seen } = get(id)
      if (seen === null || sources.now() - Date.parse(seen) >= SEEN_STEP_MS) setSeen.run(moment(), id)
    },
    revoke: (id) => {
      get(id)
      setRevoked.run(moment(), id)
      return get(id)
    },
  }
}

const SELECT = 'SELECT id, name, made, seen, revoked FROM device'

/** "Last seen" is for people; a synced write for each request of a phone would buy nothing. */
const SEEN_STEP_MS = 60_000
