// Keeps messages in the phone's own database, so that a reload or an empty battery loses none.
import type { Message, MessageStore } from './outbox.ts'

export async function openMessageStore(): Promise<MessageStore> {
  const db = await opened(indexedDB.open('guardband-bench', 1))
  return {
    all: async () => (await done(table(db, 'readonly').getAll())) as readonly Message[],
    put: (message) => written(db, (store) => store.put(message)),
    remove: (request) => written(db, (store) => store.delete(request)),
  }
}

const STORE = 'waiting'

function opened(request: IDBOpenDBRequest): Promise<IDBDatabase> {
  // Requests rise with the time at which they were made, so the key's order is theirs.
  request.addEventListener('upgradeneeded', () => void request.result.createObjectStore(STORE, { keyPath: 'request' }))
  return done(request)
}

function table(db: IDBDatabase, mode: IDBTransactionMode): IDBObjectStore {
  // Strict: told done when it is on the phone's flash, not when it is in its memory.
  return db.transaction(STORE, mode, { durability: 'strict' }).objectStore(STORE)
}

function written(db: IDBDatabase, work: (store: IDBObjectStore) => IDBRequest): Promise<void> {
  return new Promise((resolve, reject) => {
    const store = table(db, 'readwrite')
    store.transaction.addEventListener('complete', () => resolve())
    store.transaction.addEventListener('abort', () => reject(store.transaction.error ?? new Error('the phone could not keep it')))
    work(store)
  })
}

function done<Out>(request: IDBRequest<Out>): Promise<Out> {
  return new Promise((resolve, reject) => {
    request.addEventListener('success', () => resolve(request.result))
    request.addEventListener('error', () => reject(request.error ?? new Error('the phone\'s database did not answer')))
  })
}
