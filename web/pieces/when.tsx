// A moment as people write it, with the exact one for machines.
import type { ReactNode } from 'react'

export function When({ at }: { readonly at: string }): ReactNode {
  return (
    <time dateTime={at} title={at}>
      {dayAndTime.format(new Date(at))}
    </time>
  )
}

export function Day({ at }: { readonly at: string }): ReactNode {
  return <time dateTime={at}>{day.format(new Date(at))}</time>
}

/** Time of day alone, in UTC as the names of starts are. */
export function ClockTime({ at }: { readonly at: string }): ReactNode {
  return (
    <time dateTime={at} title={at}>
      {clock.format(new Date(at))}
    </time>
  )
}

const clock = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', timeZone: 'UTC' })
const day = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', year: 'numeric' })
const dayAndTime = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', year: 'numeric', hour: '2-digit', minute: '2-digit' })
