// Pictures and files beside a record: put there by dropping, pasting, choosing or photographing; seen, noted on, saved, taken off.
import { useId, useRef, useState, type ReactNode } from 'react'
import type { Evidence } from '@guardband/model'
import { EVIDENCE_LIMIT } from '@guardband/model/api/evidence'
import { useHub } from '../hub/queries.ts'
import { Loaded } from '../shell/states.tsx'
import { byteText } from './byte-text.ts'
import { EvidenceItem, TakenOff } from './evidence-item.tsx'
import { useUploads, type Upload, type Uploads } from './evidence-uploads.ts'
import { useShelfDoors } from './shelf-doors.ts'

export function EvidenceShelf({ about }: { readonly about: string }): ReactNode {
  const query = useHub('evidence', { input: { about } })
  const uploads = useUploads(about)
  const { shelf, over } = useShelfDoors<HTMLElement>(uploads.add)
  const [takenOff, setTakenOff] = useState<{ readonly name: string; readonly change: number } | null>(null)
  return (
    <section ref={shelf} className={over ? 'shelf shelf-over' : 'shelf'} aria-label="Pictures and files">
      <h2>Pictures and files</h2>
      <Loaded query={query} what="pictures and files">
        {({ evidence }) => (
          <>
            {evidence.length === 0 ? null : (
              <ul className="shelf-items">
                {evidence.map((item: Evidence) => (
                  <EvidenceItem key={item.id} evidence={item} onTakenOff={(change) => setTakenOff({ name: item.name, change })} />
                ))}
              </ul>
            )}
          </>
        )}
      </Loaded>
      {takenOff === null ? null : <TakenOff name={takenOff.name} change={takenOff.change} onDone={() => setTakenOff(null)} />}
      <Waiting uploads={uploads} />
      <Add add={uploads.add} />
    </section>
  )
}

function Add({ add }: { readonly add: (files: readonly File[]) => void }): ReactNode {
  const chosen = useRef<HTMLInputElement>(null)
  const camera = useRef<HTMLInputElement>(null)
  const hint = useId()
  const take = (input: HTMLInputElement): void => {
    add([...(input.files ?? [])])
    // So that choosing the same file again is a change too.
    input.value = ''
  }
  return (
    <div className="shelf-add">
      <input ref={chosen} type="file" multiple hidden aria-label="Files to keep here" onChange={(event) => take(event.currentTarget)} />
      <input ref={camera} type="file" accept="image/*" capture="environment" hidden aria-label="A picture from the camera" onChange={(event) => take(event.currentTarget)} />
      <button type="button" className="button" aria-describedby={hint} onClick={() => chosen.current?.click()}>
        Add files
      </button>
      <button type="button" className="button shelf-camera" onClick={() => camera.current?.click()}>
        Take a picture
      </button>
      <p className="hint" id={hint}>
        Or drop them here, or paste a screenshot. Up to {byteText(EVIDENCE_LIMIT)} each.
      </p>
    </div>
  )
}

function Waiting({ uploads }: { readonly uploads: Uploads }): ReactNode {
  if (uploads.list.length === 0) return null
  return (
    <ul className="shelf-waiting" aria-live="polite">
      {uploads.list.map((upload) => (
        <UploadLine key={upload.request} upload={upload} uploads={uploads} />
      ))}
    </ul>
  )
}

function UploadLine({ upload, uploads }: { readonly upload: Upload; readonly uploads: Uploads }): ReactNode {
  if (upload.problem === null) {
    return (
      <li>
        <span className="breaks">{upload.name}</span> is on its way{' '}
        <progress aria-label={`${upload.name} on its way`} value={upload.share} max={1} />
      </li>
    )
  }
  return (
    <li>
      <p className="problem">
        <span className="breaks">{upload.name}</span> was not kept: {upload.problem}
      </p>
      <div className="buttons">
        {upload.again ? (
          <button type="button" className="button" onClick={() => uploads.again(upload)}>
            Send it again
          </button>
        ) : null}
        <button type="button" className="button" onClick={() => uploads.leave(upload)}>
          Leave it out
        </button>
      </div>
    </li>
  )
}
