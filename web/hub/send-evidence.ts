// Sends a file to stand beside records, and tells its progress: the browser's fetch tells none of an upload.
import { errorReplySchema, ROUTES } from '@guardband/model/api'
import { HubError, type RouteOut } from './client.ts'

export interface OutgoingEvidence {
  /** Sent again under the same one, the file is kept once. */
  readonly request: string
  /** Id of the record that it is put beside; several with commas between them. */
  readonly about: string
  readonly file: Blob
  readonly name: string
  readonly note?: string
  /** A small JPEG of a picture. */
  readonly thumbnail: Blob | null
}

/** Resolves when file and record are on the hub's disk. Rejects with a HubError. */
export function sendEvidence(outgoing: OutgoingEvidence, onShare: (share: number) => void): Promise<RouteOut<'keepEvidence'>> {
  const { request, about, file, name, note, thumbnail } = outgoing
  const query = new URLSearchParams({ request, about, name: name.slice(-LONGEST_NAME), type: file.type.slice(0, LONGEST_TYPE), ...(note === undefined ? {} : { note }), thumbnail: String(thumbnail?.size ?? 0) })
  return new Promise((resolve, reject) => {
    const upload = new XMLHttpRequest()
    upload.open('POST', `${ROUTES.keepEvidence.path}?${query.toString()}`)
    upload.setRequestHeader('content-type', 'application/octet-stream')
    upload.responseType = 'json'
    upload.upload.addEventListener('progress', (event) => onShare(event.lengthComputable && event.total > 0 ? event.loaded / event.total : 0))
    upload.addEventListener('error', () => reject(new HubError('hub-silent', 'The connection to the hub broke while the file was being sent; nothing of it was kept. Send it again.')))
    upload.addEventListener('load', () => {
      const reply = ROUTES.keepEvidence.output.safeParse(upload.response)
      if (upload.status === OK && reply.success) return resolve(reply.data)
      const told = errorReplySchema.safeParse(upload.response)
      reject(told.success ? new HubError(told.data.code, told.data.sentence) : new HubError(`status-${upload.status}`, 'The hub could not keep the file and gave no reason. Its terminal may say more.'))
    })
    upload.send(new Blob(thumbnail === null ? [file] : [thumbnail, file]))
  })
}

const OK = 200
/** As the route allows. */
const LONGEST_NAME = 1000
const LONGEST_TYPE = 200
