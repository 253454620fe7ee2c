// Reads once for as long as the page is open: every entered cell is a change, and rereading all tunes after each would hold the typing up.
import { useEffect, useState } from 'react'
import { useQueryClient } from '@tanstack/react-query'
import type { RouteName } from '@guardband/model/api'
import { call, type CallOptions, type RouteOut } from '../../hub/client.ts'

export interface Once<Data> {
  readonly data: Data | undefined
  readonly error: Error | null
  readonly again: () => void
}

/** `options` must be the same object from drawing to drawing: another one is another reading. */
export function useOnce<Name extends RouteName>(name: Name, options: Omit<CallOptions<Name>, 'signal'>): Once<RouteOut<Name>> {
  const queries = useQueryClient()
  const [held, setHeld] = useState<{ readonly of?: object; readonly data?: RouteOut<Name>; readonly error?: Error }>({})
  const [tries, setTries] = useState(0)
  useEffect(() => {
    let wanted = tries >= 0
    const read = async (): Promise<void> => {
      try {
        const data = await queries.fetchQuery({ queryKey: [name, options.params ?? null, options.input ?? null], queryFn: ({ signal }) => call(name, { ...options, signal }) })
        if (wanted) setHeld({ of: options, data })
      } catch (reason) {
        if (wanted) setHeld({ of: options, error: reason instanceof Error ? reason : new Error(String(reason)) })
      }
    }
    void read()
    return () => {
      wanted = false
    }
  }, [queries, name, options, tries])
  const mine = held.of === options
  return { data: mine ? held.data : undefined, error: mine ? (held.error ?? null) : null, again: () => setTries(tries + 1) }
}
