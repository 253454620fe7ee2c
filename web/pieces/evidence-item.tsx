// One picture or file of a shelf: its small picture, whose it is, and what can be done with it.
import { useState, type ReactNode } from 'react'
import type { Evidence } from '@guardband/model'
import { evidenceFilePath, thumbnailPath } from '@guardband/model/api/evidence'
import { LONGEST_WHAT } from '@guardband/model/change-limits'
import { visibleText } from '@guardband/questions/visible-text'
import { useApply } from '../hub/apply.ts'
import { useAct } from '../hub/queries.ts'
import { Failed } from '../shell/states.tsx'
import { byteText } from './byte-text.ts'
import { Dialog } from './dialog.tsx'
import { Field } from './field.tsx'
import { FormDialog } from './form-dialog.tsx'
import { When } from './when.tsx'

export function EvidenceItem({ evidence, onTakenOff }: { readonly evidence: Evidence; readonly onTakenOff: (change: number) => void }): ReactNode {
  const [open, setOpen] = useState<'picture' | 'note' | null>(null)
  const takeOff = useApply()
  const name = visibleText(evidence.name)
  const picture = SHOWN.has(evidence.mediaType)
  const close = (): void => setOpen(null)
  return (
    <li className="shelf-item">
      {picture ? (
        <button type="button" className="shelf-picture" aria-label={`Look at ${name}`} onClick={() => setOpen('picture')}>
          {evidence.thumbnail === undefined ? <Ending name={name} /> : <img src={thumbnailPath(evidence.id)} alt="" loading="lazy" />}
        </button>
      ) : (
        <span className="shelf-picture">
          <Ending name={name} />
        </span>
      )}
      <div className="shelf-text">
        <p className="breaks">
          <a href={evidenceFilePath(evidence.id)} download={name}>
            {name}
          </a>
        </p>
        {evidence.note === undefined ? null : <p className="shelf-note breaks">{visibleText(evidence.note)}</p>}
        <small>
          {visibleText(evidence.by)}, <When at={evidence.at} />, {byteText(evidence.bytes)}
        </small>
        <div className="shelf-acts">
          <button type="button" className="button-quiet" aria-label={`${evidence.note === undefined ? 'Add a note to' : 'Change the note of'} ${name}`} onClick={() => setOpen('note')}>
            {evidence.note === undefined ? 'Add a note' : 'Change the note'}
          </button>
          <button
            type="button"
            className="button-quiet"
            aria-label={`Take off ${name}`}
            disabled={takeOff.isPending}
            onClick={() => takeOff.mutate({ what: `Took "${evidence.name}" off`.slice(0, LONGEST_WHAT), items: [{ before: evidence, after: null }] }, { onSuccess: onTakenOff })}
          >
            Take off
          </button>
        </div>
        {takeOff.isError ? <Failed error={takeOff.error} /> : null}
      </div>
      {open === 'picture' ? <PictureDialog evidence={evidence} onClose={close} /> : null}
      {open === 'note' ? <NoteDialog evidence={evidence} onClose={close} /> : null}
    </li>
  )
}

/** Said in the place of what was taken off, until something else is done. */
export function TakenOff({ name, change, onDone }: { readonly name: string; readonly change: number; readonly onDone: () => void }): ReactNode {
  const undo = useAct('undo')
  return (
    <div className="notice" role="status">
      <p>
        <span className="breaks">{visibleText(name)}</span> was taken off; the file itself stays in the workspace.{' '}
        <button type="button" className="button-quiet" disabled={undo.isPending} onClick={() => undo.mutate({ params: { seq: String(change) }, input: { why: '' } }, { onSuccess: onDone })}>
          Put it back
        </button>
      </p>
      {undo.isError ? <Failed error={undo.error} /> : null}
    </div>
  )
}

function PictureDialog({ evidence, onClose }: { readonly evidence: Evidence; readonly onClose: () => void }): ReactNode {
  const [broken, setBroken] = useState(false)
  const name = visibleText(evidence.name)
  return (
    <Dialog title={name} onClose={onClose}>
      {broken ? (
        <p className="problem">This is not shown: its bytes are no picture, or the file is gone. Run the check, or save it and look at it with care.</p>
      ) : (
        <img className="shelf-whole" src={evidenceFilePath(evidence.id)} alt={evidence.note === undefined ? name : visibleText(evidence.note)} onError={() => setBroken(true)} />
      )}
      <div className="buttons">
        <a className="button" href={evidenceFilePath(evidence.id)} download={name}>
          Save it
        </a>
        <button type="button" className="button" onClick={onClose}>
          Close
        </button>
      </div>
    </Dialog>
  )
}

function NoteDialog({ evidence, onClose }: { readonly evidence: Evidence; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const [note, setNote] = useState(evidence.note ?? '')
  const { note: _before, ...bare } = evidence
  const send = (): void => {
    const after = note.trim() === '' ? bare : { ...bare, note: note.trim() }
    if ((evidence.note ?? '') === note.trim()) return onClose()
    apply.mutate({ what: `${note.trim() === '' ? 'Took the note off' : 'Noted on'} "${evidence.name}"`.slice(0, LONGEST_WHAT), items: [{ before: evidence, after }] }, { onSuccess: onClose })
  }
  return (
    <FormDialog title={`Note on ${visibleText(evidence.name)}`} act="Keep it" busy={apply.isPending} error={apply.error} onClose={onClose} onSend={send}>
      <Field label="What it shows">{(control) => <textarea {...control} rows={3} maxLength={2000} value={note} onChange={(event) => setNote(event.currentTarget.value)} />}</Field>
    </FormDialog>
  )
}

/** For what has no small picture: how its name ends says most. */
function Ending({ name }: { readonly name: string }): ReactNode {
  return <span aria-hidden="true">{/\.([A-Za-z0-9]{1,5})$/.exec(name)?.[1] ?? 'file'}</span>
}

/** Types that the hub hands out as pictures, where the bytes are what their name says. */
const SHOWN: ReadonlySet<string> = new Set(['image/jpeg', 'image/png', 'image/gif', 'image/webp'])
