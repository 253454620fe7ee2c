// Sends a large file as it is, and tells its progress: the browser's fetch tells none of an upload.
import { errorReplySchema } from '@guardband/model/api'
import { HubError } from './client.ts'

/** Resolves with the reply, unchecked. Rejects with a HubError; `broken` is what it says when the connection broke. */
export function sendFile(input: { readonly address: string; readonly body: Blob; readonly broken: string; readonly onShare: (share: number) => void; readonly signal?: AbortSignal }): Promise<unknown> {
  return new Promise((resolve, reject) => {
    const upload = new XMLHttpRequest()
    upload.open('POST', input.address)
    upload.setRequestHeader('content-type', 'application/octet-stream')
    upload.responseType = 'json'
    upload.upload.addEventListener('progress', (event) => input.onShare(event.lengthComputable && event.total > 0 ? event.loaded / event.total : 0))
    upload.addEventListener('error', () => reject(new HubError('hub-silent', input.broken)))
    upload.addEventListener('load', () => {
      if (upload.status === OK) return resolve(upload.response)
      const told = errorReplySchema.safeParse(upload.response)
      reject(told.success ? new HubError(told.data.code, told.data.sentence) : new HubError(`status-${upload.status}`, `The hub could not do this and gave no reason (status ${upload.status}). Its terminal may say more.`))
    })
    upload.addEventListener('abort', () => reject(new HubError('stopped', 'It was stopped; nothing of it was kept.')))
    if (input.signal?.aborted === true) return upload.abort()
    input.signal?.addEventListener('abort', () => upload.abort(), { once: true })
    upload.send(input.body)
  })
}

const OK = 200
