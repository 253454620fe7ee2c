// The three states that are not data: still reading, went wrong, nothing there yet. Each says what to do.
import type { ReactNode } from 'react'
import type { UseQueryResult } from '@tanstack/react-query'
import { HubError } from '../hub/client.ts'

export function Loaded<T>({ query, what, children }: { readonly query: UseQueryResult<T>; readonly what: string; readonly children: (data: T) => ReactNode }): ReactNode {
  if (query.data !== undefined) {
    return (
      <>
        {query.isError ? <Failed error={query.error} again={() => void query.refetch()} /> : null}
        {children(query.data)}
      </>
    )
  }
  if (query.isError) return <Failed error={query.error} again={() => void query.refetch()} />
  return <Waiting what={what} />
}

export function Waiting({ what }: { readonly what: string }): ReactNode {
  return (
    <p className="waiting" role="status">
      Reading {what} ...
    </p>
  )
}

export function Failed({ error, again }: { readonly error: Error; readonly again?: () => void }): ReactNode {
  return (
    <div className="notice notice-failed" role="alert">
      <p>{error instanceof HubError ? error.message : `Something went wrong on this page: ${error.message}. Reload it; if that does not help, the hub's terminal may say more.`}</p>
      {again === undefined ? null : (
        <button type="button" className="button" onClick={again}>
          Try again
        </button>
      )}
    </div>
  )
}

/** What to do where there is nothing yet; the page's headline says that there is nothing, unless it says something else. */
export function Empty({ title, children }: { readonly title?: string; readonly children: ReactNode }): ReactNode {
  return (
    <section className="empty">
      {title === undefined ? null : <h2>{title}</h2>}
      {children}
    </section>
  )
}
