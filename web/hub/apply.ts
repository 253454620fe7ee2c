// Changes records: one change under one request id, which may be sent again after a lost reply and is made once.
import { useMutation, useQueryClient, type UseMutationResult } from '@tanstack/react-query'
import type { SentChange } from '@guardband/model/api/records'
import { call, HubError } from './client.ts'
import { newId } from './new-id.ts'

export type NewChange = Omit<SentChange, 'request'>

/** Sends a change until the hub says yes or no. Resolves with its number once it is on the hub's disk. */
export async function applyChange(change: NewChange, request = newId()): Promise<number> {
  for (let tries = 1; ; tries++) {
    try {
      return (await call('apply', { input: { ...change, request } })).change
    } catch (error) {
      if (!(error instanceof HubError) || error.code !== 'hub-silent' || tries === TRIES) throw error
      await new Promise((resolve) => setTimeout(resolve, PAUSE_MS))
    }
  }
}

/** As an act of a page: what it changed is read again everywhere. */
export function useApply(): UseMutationResult<number, Error, NewChange> {
  const queries = useQueryClient()
  return useMutation({ mutationFn: (change: NewChange) => applyChange(change), onSuccess: () => void queries.invalidateQueries() })
}

const TRIES = 3
const PAUSE_MS = 700
