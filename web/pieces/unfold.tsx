// Something that is shown only when a person asks for it, and read only then.
import { useState, type ReactNode } from 'react'

export function Unfold({ title, about, children }: { readonly title: string; /** For those who hear the page: of what. */ readonly about: string; readonly children: ReactNode }): ReactNode {
  const [open, setOpen] = useState(false)
  return (
    <details className="unfold" open={open} onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>
        {title}
        <span className="unseen"> of {about}</span>
      </summary>
      {open ? children : null}
    </details>
  )
}
