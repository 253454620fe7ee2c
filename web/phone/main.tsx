// Starts the bench view: opens what the phone keeps, listens to the hub, and sees to it that only one tab of it sends.
import '@fontsource-variable/atkinson-hyperlegible-next/wght.css'
import '../styles/tokens.css'
import './phone.css'
import { StrictMode, type ReactNode } from 'react'
import { createRoot } from 'react-dom/client'
import type { BenchState } from '@guardband/model/api/phone'
import { App } from './app.tsx'
import { createDesk } from './desk.ts'
import { createLiveDesk } from './live-desk.ts'
import { answerStore, readLive, sendAnswer } from './live-route.ts'
import { keepScreenOn } from './keep-screen-on.ts'
import { openMessageStore } from './message-store.ts'
import { createOutbox } from './outbox.ts'
import { PATHS, sendMessage } from './send-message.ts'

const place = document.getElementById('root')
if (place === null) throw new Error('index.html must have an element with id "root"; got none')
const root = createRoot(place)
const show = (content: ReactNode): void => root.render(<StrictMode>{content}</StrictMode>)

void whileAlone(begin).catch((error: unknown) => {
  show(<Alone title="This phone can't keep entries." text={`The browser gives this page no room to keep what waits for the hub (${error instanceof Error ? error.message : String(error)}). Leave private browsing, or make room, and open the page again.`} />)
})

async function begin(): Promise<void> {
  const store = await openMessageStore()
  const outbox = await createOutbox({ store, later, send: (message) => sendMessage(message, (path, init) => fetch(path, init)) })
  const desk = createDesk({ outbox, read: readState })
  const live = createLiveDesk({ read: readLive, send: sendAnswer, store: answerStore, now: () => Date.now(), later })
  show(<App desk={desk} live={live} />)
  desk.look()
  live.look()
  listenToHub(desk.look, live.look)
  keepScreenOn()
  // What waits would outlive the page, but nobody would send it.
  window.addEventListener('beforeunload', (event) => {
    if (outbox.waiting().length + live.view().unsent.length > 0) event.preventDefault()
  })
}

function later(milliseconds: number, work: () => void): () => void {
  const timer = setTimeout(work, milliseconds)
  return () => clearTimeout(timer)
}

async function readState(): Promise<{ readonly result: 'read'; readonly state: BenchState } | { readonly result: 'silent' } | { readonly result: 'shut out' }> {
  try {
    const reply = await fetch(PATHS.bench, { signal: AbortSignal.timeout(READ_MS) })
    if (reply.status === 401) return { result: 'shut out' }
    if (!reply.ok) return { result: 'silent' }
    // The hub has held it against its schema; page and hub come from one build, and the page is no older than the hub's last start allows.
    return { result: 'read', state: (await reply.json()) as BenchState }
  } catch {
    return { result: 'silent' }
  }
}

/** Hears of changes; a browser opens a broken stream again by itself, unless the hub refused it. */
function listenToHub(lookAtLab: () => void, lookAtRigs: () => void): void {
  let stream: EventSource | undefined
  const look = (): void => {
    lookAtLab()
    lookAtRigs()
  }
  const open = (): void => {
    stream?.close()
    stream = new EventSource('/bench/events')
    // Rigs speak every few seconds; the sheets need not be read again for it.
    stream.addEventListener('message', ({ data }) => (data === RIGS_SPOKE ? lookAtRigs() : look()))
    stream.addEventListener('open', look)
    stream.addEventListener('error', look)
  }
  open()
  setInterval(() => {
    if (stream?.readyState !== EventSource.CLOSED) return
    open()
  }, REOPEN_MS)
  window.addEventListener('online', look)
  window.addEventListener('offline', look)
  document.addEventListener('visibilitychange', () => {
    if (document.visibilityState === 'visible') look()
  })
}

/** Two tabs would each send what both keep: harmless, since nothing is made twice, but out of order. */
async function whileAlone(work: () => Promise<void>): Promise<void> {
  // Older browsers have no locks.
  const locks = navigator.locks as LockManager | undefined
  if (locks === undefined) return work()
  const waitTold = setTimeout(() => show(<Alone title="The bench is open in another tab." text="Use that one, or close it: this one then goes on by itself." />), LOCK_MS)
  await locks.request('guardband-bench', async () => {
    clearTimeout(waitTold)
    await work()
    // Held until the page goes.
    await new Promise(() => undefined)
  })
}

function Alone({ title, text }: { readonly title: string; readonly text: string }): ReactNode {
  return (
    <main className="alone">
      <h1>{title}</h1>
      <p>{text}</p>
    </main>
  )
}

/** As the hub writes it (`HubEvent`). */
const RIGS_SPOKE = JSON.stringify({ type: 'rigs' })
const READ_MS = 10_000
const REOPEN_MS = 5000
/** A reloaded page's lock is free a moment after the page is. */
const LOCK_MS = 1500
