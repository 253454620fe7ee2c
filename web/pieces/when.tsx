// A moment as people write it, with the exact one for machines. One rule: days and times are in UTC, as the names of starts are, and a time of day says so, here or in its column's heading.
import type { ReactNode } from 'react'

export function When({ at }: { readonly at: string }): ReactNode {
  return (
    <time dateTime={at} title={at} className="unbroken">
      {dayAndTime.format(new Date(at))} UTC
    </time>
  )
}

export function Day({ at }: { readonly at: string }): ReactNode {
  return <time dateTime={at} className="unbroken">{day.format(new Date(at))}</time>
}

/** Time of day alone: the heading of its column says UTC. */
export function ClockTime({ at }: { readonly at: string }): ReactNode {
  return (
    <time dateTime={at} title={at}>
      {clock.format(new Date(at))}
    </time>
  )
}

const clock = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', timeZone: 'UTC' })
const day = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', year: 'numeric', timeZone: 'UTC' })
const dayAndTime = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', year: 'numeric', hour: '2-digit', minute: '2-digit', timeZone: 'UTC' })
