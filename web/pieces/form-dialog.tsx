// A form in a dialog: fields, what went wrong, one button that does it and one that leaves it.
import { useState, type ReactNode } from 'react'
import { Failed } from '../shell/states.tsx'
import { Dialog, DialogButtons } from './dialog.tsx'

export function FormDialog(props: {
  readonly title: string
  readonly explain?: ReactNode
  /** What the main button does: "Keep", "Make it". */
  readonly act: string
  readonly busy: boolean
  readonly error: Error | null
  /** A sentence that keeps the form from being sent; said once somebody tried. */
  readonly problem?: string | undefined
  readonly onClose: () => void
  readonly onSend: () => void
  readonly children: ReactNode
}): ReactNode {
  const [tried, setTried] = useState(false)
  return (
    <Dialog title={props.title} onClose={props.onClose}>
      <form
        noValidate
        onSubmit={(event) => {
          event.preventDefault()
          setTried(true)
          if (props.problem === undefined && !props.busy) props.onSend()
        }}
      >
        {props.explain === undefined ? null : <p>{props.explain}</p>}
        <div className="form">{props.children}</div>
        {props.problem === undefined || !tried ? null : (
          <p className="problem" role="alert">
            {props.problem}
          </p>
        )}
        {props.error === null ? null : <Failed error={props.error} />}
        <DialogButtons act={props.act} busy={props.busy} onClose={props.onClose} />
      </form>
    </Dialog>
  )
}
