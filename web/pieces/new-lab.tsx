// Starts a workspace of one's own and opens it.
import { useId, useState, type ReactNode } from 'react'
import { useNavigate } from '@tanstack/react-router'
import { useAct } from '../hub/queries.ts'
import { Failed } from '../shell/states.tsx'
import { Dialog } from './dialog.tsx'

export function NewLabButton({ main }: { readonly main?: true }): ReactNode {
  const [open, setOpen] = useState(false)
  return (
    <>
      <button type="button" className={main === true ? 'button button-main' : 'button'} onClick={() => setOpen(true)}>
        Start a workspace of my own
      </button>
      {open ? <NewLabDialog onClose={() => setOpen(false)} /> : null}
    </>
  )
}

function NewLabDialog({ onClose }: { readonly onClose: () => void }): ReactNode {
  const create = useAct('newLab')
  const navigate = useNavigate()
  const nameId = useId()
  const currencyId = useId()
  return (
    <Dialog title="A workspace of your own" onClose={onClose}>
      <form
        onSubmit={(event) => {
          event.preventDefault()
          const fields = new FormData(event.currentTarget)
          const input = { name: textOf(fields.get('name')), currency: textOf(fields.get('currency')) }
          create.mutate(
            { input },
            {
              onSuccess: () => {
                onClose()
                void navigate({ to: '/' })
              },
            },
          )
        }}
      >
        <p>It begins empty, in a folder of its own. The one that is open now stays where it is.</p>
        <label htmlFor={nameId}>Name of the lab</label>
        <input id={nameId} name="name" required maxLength={200} autoComplete="organization" />
        <label htmlFor={currencyId}>Currency, as you write it</label>
        <input id={currencyId} name="currency" maxLength={10} className="short" aria-describedby={`${currencyId}-hint`} />
        <p className="hint" id={`${currencyId}-hint`}>
          For prices and costs: EUR, for instance. May stay empty.
        </p>
        {create.isError ? <Failed error={create.error} /> : null}
        <div className="buttons">
          <button type="submit" className="button button-main" disabled={create.isPending}>
            Start it
          </button>
          <button type="button" className="button" onClick={onClose}>
            Leave it
          </button>
        </div>
      </form>
    </Dialog>
  )
}

function textOf(value: FormDataEntryValue | null): string {
  return typeof value === 'string' ? value.trim() : ''
}
