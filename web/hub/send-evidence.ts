// Sends a file to stand beside records.
import { ROUTES } from '@guardband/model/api'
import type { RouteOut } from './client.ts'
import { sendFile } from './send-file.ts'

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
export async function sendEvidence(outgoing: OutgoingEvidence, onShare: (share: number) => void): Promise<RouteOut<'keepEvidence'>> {
  const { request, about, file, name, note, thumbnail } = outgoing
  const query = new URLSearchParams({ request, about, name: name.slice(-LONGEST_NAME), type: file.type.slice(0, LONGEST_TYPE), ...(note === undefined ? {} : { note }), thumbnail: String(thumbnail?.size ?? 0) })
  const reply = await sendFile({
    address: `${ROUTES.keepEvidence.path}?${query.toString()}`,
    body: new Blob(thumbnail === null ? [file] : [thumbnail, file]),
    broken: 'The connection to the hub broke while the file was being sent; nothing of it was kept. Send it again.',
    onShare,
  })
  return ROUTES.keepEvidence.output.parse(reply)
}

/** As the route allows. */
const LONGEST_NAME = 1000
const LONGEST_TYPE = 200
