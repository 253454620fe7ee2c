// A workspace from a file that an export gave: sent, then followed while its thread reads and writes, and cancelled at any moment.
import { useEffect, useRef, useState, type ReactNode } from 'react'
import { useNavigate } from '@tanstack/react-router'
import { useMutation, useQueryClient } from '@tanstack/react-query'
import { ROUTES } from '@guardband/model/api'
import { IMPORT_LIMIT } from '@guardband/model/api/moving'
import { counted, fixed } from '@guardband/model/figures'
import { call, HubError, type RouteOut } from '../hub/client.ts'
import { newId } from '../hub/new-id.ts'
import { sendFile } from '../hub/send-file.ts'
import { byteText } from '../pieces/byte-text.ts'
import { Field } from '../pieces/field.tsx'
import { Failed } from '../shell/states.tsx'

export function OpenExport(): ReactNode {
  const opening = useOpening()
  const [tooLarge, setTooLarge] = useState<string | undefined>(undefined)
  return (
    <section>
      <h2>A workspace from a file</h2>
      <p className="keep-lead">An archive, or records as JSON or CSV, as this page gives them. It becomes a new workspace in a folder of its own and is opened; the one open now stays as it is.</p>
      <Field label="File from an export" hint={`Up to ${byteText(IMPORT_LIMIT)}. Runs from other programs come in on the page Runs.`} problem={tooLarge}>
        {(control) => (
          <input
            {...control}
            type="file"
            accept=".zip,.json,application/zip,application/json"
            disabled={opening.now !== null}
            onChange={(event) => {
              const file = event.currentTarget.files?.[0]
              event.currentTarget.value = ''
              if (file === undefined) return
              setTooLarge(file.size > IMPORT_LIMIT ? `It has ${byteText(file.size)}. Import it from a terminal: npx guardband import FILE FOLDER.` : undefined)
              if (file.size <= IMPORT_LIMIT) opening.open(file)
            }}
          />
        )}
      </Field>
      {opening.now === null ? null : <UnderWay now={opening.now} onCancel={opening.cancel} />}
      {opening.cancelled ? <p role="status">Cancelled; no workspace was made of it.</p> : null}
      {opening.error === null ? null : <Failed error={opening.error} />}
    </section>
  )
}

function UnderWay({ now, onCancel }: { readonly now: Standing; readonly onCancel: () => void }): ReactNode {
  return (
    <div className="keep-under-way">
      <p role="status">{SAID[now.doing]}</p>
      {now.all === 0 ? null : (
        <p>
          <progress aria-label={SAID[now.doing]} value={now.done} max={now.all} />{' '}
          <span className="figure">{now.doing === 'unpacking' || now.doing === 'receiving' ? `${byteText(now.done)} of ${byteText(now.all)}` : `${fixed(now.done, 0)} of ${counted(now.all, 'record')}`}</span>
        </p>
      )}
      <div className="buttons">
        <button type="button" className="button" onClick={onCancel}>
          Cancel
        </button>
      </div>
    </div>
  )
}

type Standing = RouteOut<'openProgress'>

const SAID: Readonly<Record<Standing['doing'], string>> = {
  receiving: 'It is being sent.', nothing: 'It is being opened.', reading: 'It is being read.', comparing: 'It is being compared with its digest.', writing: 'It is being written.', unpacking: 'It is being unpacked.',
}

interface Opening {
  /** Null where nothing is under way. */
  readonly now: Standing | null
  readonly cancelled: boolean
  readonly error: Error | null
  readonly open: (file: File) => void
  readonly cancel: () => void
}

function useOpening(): Opening {
  const [now, setNow] = useState<Standing | null>(null)
  const under = useRef<{ readonly id: string; readonly stop: AbortController } | null>(null)
  const queries = useQueryClient()
  const navigate = useNavigate()
  const open = useMutation({
    mutationFn: async (file: File) => {
      const mine = { id: newId(), stop: new AbortController() }
      under.current = mine
      setNow({ doing: 'receiving', done: 0, all: file.size })
      const query = new URLSearchParams({ file: file.name.slice(-LONGEST_NAME), id: mine.id })
      const reply = await sendFile({
        address: `${ROUTES.openExport.path}?${query.toString()}`,
        body: file,
        broken: 'The connection to the hub broke while the file was being sent; no workspace was made. Choose it again.',
        onShare: (share) => setNow(share < 1 ? { doing: 'receiving', done: Math.round(share * file.size), all: file.size } : { doing: 'nothing', done: 0, all: 0 }),
        signal: mine.stop.signal,
      })
      return ROUTES.openExport.output.parse(reply)
    },
    onSettled: () => {
      under.current = null
      setNow(null)
    },
    onSuccess: async () => {
      await queries.resetQueries()
      await navigate({ to: '/' })
    },
  })
  const received = now !== null && now.doing !== 'receiving'
  useEffect(() => {
    if (!received) return undefined
    const look = async (): Promise<void> => {
      if (under.current === null) return
      try {
        const standing = await call('openProgress', { params: { id: under.current.id } })
        if (standing.doing !== 'receiving') setNow((before) => (before === null ? null : standing))
      } catch {
        // The reply to the file itself says what went wrong.
      }
    }
    const timer = setInterval(() => void look(), POLL_MS)
    return () => clearInterval(timer)
  }, [received])
  const cancelled = open.error instanceof HubError && CANCELLED.has(open.error.code)
  return {
    now, cancelled,
    error: cancelled ? null : open.error,
    open: (file) => open.mutate(file),
    cancel: () => {
      if (under.current === null) return
      // While bytes are on their way, the broken request says it; afterwards the hub has to be told.
      if (now?.doing === 'receiving') under.current.stop.abort()
      else void call('openCancel', { params: { id: under.current.id } }).catch(() => undefined)
    },
  }
}

const CANCELLED: ReadonlySet<string> = new Set(['stopped', 'import-cancelled'])
const POLL_MS = 250
/** As the route allows. */
const LONGEST_NAME = 300
