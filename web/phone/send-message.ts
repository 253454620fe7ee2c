// Sends one message to the hub, and says what came of it.
import type { PHONE_ROUTES } from '@guardband/model/api/phone'
import type { Message, SendResult } from './outbox.ts'

/** A request as `fetch` takes it; tests send it through a client of their own. */
export type Fetch = (path: string, init: { readonly method: 'POST'; readonly headers: Record<string, string>; readonly body: string | Blob; readonly signal: AbortSignal }) => Promise<{ readonly status: number; readonly json: () => Promise<unknown> }>

export async function sendMessage(message: Message, fetch: Fetch): Promise<SendResult> {
  const { path, type, body, patience } = requestOf(message)
  try {
    const reply = await fetch(path, { method: 'POST', headers: { 'content-type': type }, body, signal: AbortSignal.timeout(patience) })
    if (reply.status === 200) {
      // Saved only when the reply came whole: a hub that dies while it replies has said nothing.
      await reply.json()
      return { result: 'saved' }
    }
    if (reply.status === 401) return { result: 'shut out' }
    const told = (await reply.json()) as { readonly code?: unknown; readonly sentence?: unknown }
    // Made, and taken back by somebody before this phone heard of either; or to be taken back and never made. Either way it stands as was wished last.
    if (told.code === 'request-taken-back' || (message.kind === 'take back' && told.code === 'no-change')) return { result: 'saved' }
    if (reply.status >= 500) return { result: 'silent' }
    return { result: 'refused', sentence: typeof told.sentence === 'string' ? told.sentence : `The hub refused it and gave no reason (status ${reply.status}).` }
  } catch {
    return { result: 'silent' }
  }
}

function requestOf(message: Message): { readonly path: string; readonly type: string; readonly body: string | Blob; readonly patience: number } {
  const { labId, request, what } = message
  switch (message.kind) {
    case 'entry':
      return { path: PATHS.enter, type: 'application/json', body: JSON.stringify({ labId, request, what, items: message.items }), patience: PATIENCE_MS }
    case 'take back':
      return { path: PATHS.takeBack, type: 'application/json', body: JSON.stringify({ labId, entry: message.entry }), patience: PATIENCE_MS }
    case 'picture': {
      const query = new URLSearchParams({ request, name: message.name, type: message.file.type, about: message.about, thumbnail: String(message.thumbnail?.size ?? 0) })
      return { path: `${PATHS.picture}?${query.toString()}`, type: 'application/octet-stream', body: new Blob(message.thumbnail === null ? [message.file] : [message.thumbnail, message.file]), patience: PICTURE_PATIENCE_MS }
    }
  }
}

/** As the contract has them; spelt out here, since its schemas would double the weight of the page. A test holds them against it. */
export const PATHS = { bench: '/bench/state', enter: '/bench/entries', takeBack: '/bench/take-back', picture: '/bench/pictures' } as const satisfies { readonly [Name in keyof typeof PHONE_ROUTES]?: string }

const PATIENCE_MS = 15_000
/** A large picture over a weak radio. */
const PICTURE_PATIENCE_MS = 110_000
