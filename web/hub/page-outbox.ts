// The outbox of this page: kept by the browser, woken by other tabs and by the network, and a warning before a page with unsaved entries is left.
import { browserStore, createOutbox, sendToHub, type Outbox } from './outbox.ts'

/** One a lab; made at its first use. */
export function pageOutbox(labId: string): Outbox {
  const known = outboxes.get(labId)
  if (known !== undefined) return known
  const outbox = createOutbox({ labId, store: browserStore(localStorage), send: sendToHub, alone, later: (milliseconds, work) => void setTimeout(work, milliseconds) })
  outboxes.set(labId, outbox)
  const wake = (): void => void outbox.flush()
  window.addEventListener('storage', wake)
  window.addEventListener('online', wake)
  document.addEventListener('visibilitychange', wake)
  window.addEventListener('beforeunload', (event) => {
    if (outbox.entries().length > 0) event.preventDefault()
  })
  wake()
  return outbox
}

const outboxes = new Map<string, Outbox>()

/** Where the browser has no locks (a page without a safe origin), tabs may send the same entry: the hub makes it once. */
async function alone(name: string, work: () => Promise<void>): Promise<void> {
  // The type says that every browser has locks; an unsafe origin has none.
  const locks = navigator.locks as LockManager | undefined
  await (locks === undefined ? work() : locks.request(name, work))
}
