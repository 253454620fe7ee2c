// A question that must be answered before anything else: the browser's own dialog, which keeps the focus and closes on Escape.
import { useEffect, useId, useRef, type ReactNode } from 'react'

export function Dialog({ title, onClose, children }: { readonly title: string; readonly onClose: () => void; readonly children: ReactNode }): ReactNode {
  const element = useRef<HTMLDialogElement>(null)
  const titleId = useId()
  useEffect(() => {
    const dialog = element.current
    const before = document.activeElement
    if (dialog !== null && !dialog.open) dialog.showModal()
    return () => {
      dialog?.close()
      if (before instanceof HTMLElement) before.focus()
    }
  }, [])
  return (
    <dialog ref={element} aria-labelledby={titleId} onCancel={onClose}>
      <h2 id={titleId}>{title}</h2>
      {children}
    </dialog>
  )
}

/** Asks for a sentence and hands it on: why something is set aside, brought back or undone. */
export function ReasonDialog(props: {
  readonly title: string
  readonly explain: string
  readonly label: string
  readonly act: string
  readonly optional?: true
  readonly busy: boolean
  readonly problem: ReactNode
  readonly onClose: () => void
  readonly onReason: (reason: string) => void
}): ReactNode {
  const field = useId()
  return (
    <Dialog title={props.title} onClose={props.onClose}>
      <form
        onSubmit={(event) => {
          event.preventDefault()
          const reason = new FormData(event.currentTarget).get('reason')
          props.onReason(typeof reason === 'string' ? reason.trim() : '')
        }}
      >
        <p>{props.explain}</p>
        <label htmlFor={field}>{props.label}</label>
        <textarea id={field} name="reason" rows={3} maxLength={2000} required={props.optional !== true} />
        {props.problem}
        <DialogButtons act={props.act} busy={props.busy} onClose={props.onClose} />
      </form>
    </Dialog>
  )
}

/** One button that does it and one that leaves it, in this order everywhere. */
export function DialogButtons({ act, busy, onClose }: { readonly act: string; readonly busy: boolean; readonly onClose: () => void }): ReactNode {
  return (
    <div className="buttons">
      <button type="submit" className="button button-main" disabled={busy}>
        {act}
      </button>
      <button type="button" className="button" onClick={onClose}>
        Leave it
      </button>
    </div>
  )
}
