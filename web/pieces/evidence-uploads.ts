// Files on their way to the hub: one after the other, each with its progress, and again after a broken connection.
import { useRef, useState } from 'react'
import { useQueryClient } from '@tanstack/react-query'
import { EVIDENCE_LIMIT } from '@guardband/model/api/evidence'
import { newId } from '../hub/new-id.ts'
import { sendEvidence } from '../hub/send-evidence.ts'
import { byteText } from './byte-text.ts'
import { makeThumbnail } from './thumbnail.ts'

export interface Upload {
  readonly request: string
  readonly file: File
  readonly name: string
  /** Of the bytes, 0 to 1. */
  readonly share: number
  /** Why it is not there; null while it is on its way. */
  readonly problem: string | null
  /** Whether trying again may help. */
  readonly again: boolean
}

export interface Uploads {
  readonly list: readonly Upload[]
  readonly add: (files: readonly File[]) => void
  readonly again: (upload: Upload) => void
  readonly leave: (upload: Upload) => void
}

export function useUploads(about: string): Uploads {
  const queries = useQueryClient()
  const [list, setList] = useState<readonly Upload[]>([])
  const last = useRef<Promise<void>>(Promise.resolve())

  const update = (request: string, change: Partial<Upload>): void => setList((before) => before.map((upload) => (upload.request === request ? { ...upload, ...change } : upload)))
  const leave = (upload: Upload): void => setList((before) => before.filter(({ request }) => request !== upload.request))
  const send = async (upload: Upload): Promise<void> => {
    try {
      const thumbnail = await makeThumbnail(upload.file)
      await sendEvidence({ request: upload.request, about, file: upload.file, name: upload.name, thumbnail }, (share) => update(upload.request, { share }))
      await queries.invalidateQueries()
      leave(upload)
    } catch (error) {
      update(upload.request, { problem: error instanceof Error ? error.message : String(error), again: true })
    }
  }
  const queue = (upload: Upload): void => {
    last.current = last.current.then(() => send(upload))
  }
  return {
    list,
    add: (files) => {
      const uploads = files.map((file) => {
        const problem = file.size > EVIDENCE_LIMIT ? `It has ${byteText(file.size)}; a file may have ${byteText(EVIDENCE_LIMIT)}. Make it smaller, or keep it elsewhere and say where in a note.` : file.size === 0 ? 'It is empty, or a folder.' : null
        return { request: newId(), file, name: file.name, share: 0, problem, again: false }
      })
      setList((before) => [...before, ...uploads])
      for (const upload of uploads) if (upload.problem === null) queue(upload)
    },
    again: (upload) => {
      update(upload.request, { problem: null, share: 0 })
      queue(upload)
    },
    leave,
  }
}
