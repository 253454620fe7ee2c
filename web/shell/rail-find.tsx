// The search field of the rail: "/" leads into it from anywhere, Enter to what was found, Escape out again.
import { useEffect, useId, useRef, type ReactNode } from 'react'
import { useNavigate } from '@tanstack/react-router'

export function RailFind({ onFind }: { readonly onFind: () => void }): ReactNode {
  const navigate = useNavigate()
  const field = useRef<HTMLInputElement>(null)
  const id = useId()
  useEffect(() => {
    const lead = (event: KeyboardEvent): void => {
      if (event.key !== '/' || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented || takesText(event.target)) return
      // The search page has a field of its own, with what is looked for in it.
      const wanted = document.querySelector<HTMLInputElement>('#find-field') ?? field.current
      if (wanted === null || wanted.offsetParent === null || document.querySelector('dialog[open]') !== null) return
      event.preventDefault()
      wanted.focus()
      wanted.select()
    }
    document.addEventListener('keydown', lead)
    return () => document.removeEventListener('keydown', lead)
  }, [])
  return (
    <search className="rail-find">
      <form
        onSubmit={(event) => {
          event.preventDefault()
          const q = field.current?.value.trim() ?? ''
          if (field.current !== null) field.current.value = ''
          onFind()
          void navigate({ to: '/find', search: q === '' ? {} : { q } })
        }}
      >
        <label htmlFor={id}>
          Find <kbd aria-hidden="true">/</kbd>
        </label>
        <input
          ref={field}
          id={id}
          type="search"
          maxLength={MOST_LETTERS}
          aria-keyshortcuts="/"
          autoComplete="off"
          onKeyDown={(event) => {
            if (event.key === 'Escape') event.currentTarget.blur()
          }}
        />
      </form>
    </search>
  )
}

/** As the route allows. */
const MOST_LETTERS = 200

function takesText(target: EventTarget | null): boolean {
  if (!(target instanceof HTMLElement)) return false
  return target.isContentEditable || target.closest('input, textarea, select, [role="grid"]') !== null
}
