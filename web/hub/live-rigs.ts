// Rigs at work as the hub last heard of them, and what a person tells them. The event stream says when to read again; nothing here asks by the clock.
import { useMutation, useQuery, useQueryClient } from '@tanstack/react-query'
import type { UseMutationResult, UseQueryResult } from '@tanstack/react-query'
import type { LiveReply } from '@guardband/model/api'
import { call } from './client.ts'

export interface LiveSight extends LiveReply {
  /** Milliseconds to add to this page's clock to get the hub's. */
  readonly ahead: number
}

export const LIVE_KEY: readonly string[] = ['liveRigs']

export function useLiveRigs(): UseQueryResult<LiveSight> {
  return useQuery({ queryKey: LIVE_KEY, queryFn: async ({ signal }) => sightOf(await call('liveRigs', { signal })) })
}

export interface GivenHere {
  readonly device: string
  readonly ask: string
  readonly answer: string
}

export function useAnswerRig(): UseMutationResult<LiveReply, Error, GivenHere> {
  const queries = useQueryClient()
  return useMutation({
    mutationFn: ({ device, ask, answer }: GivenHere) => call('answerRig', { params: { device }, input: { ask, answer } }),
    onSuccess: (reply) => void queries.setQueryData(LIVE_KEY, sightOf(reply)),
    // Refused, most often, since the rig has gone on: what it is at now is wanted at once.
    onError: () => void queries.invalidateQueries({ queryKey: LIVE_KEY }),
  })
}

export function useStopRig(): UseMutationResult<LiveReply, Error, string> {
  const queries = useQueryClient()
  return useMutation({ mutationFn: (device: string) => call('stopRig', { params: { device }, input: {} }), onSuccess: (reply) => void queries.setQueryData(LIVE_KEY, sightOf(reply)) })
}

function sightOf(reply: LiveReply): LiveSight {
  return { ...reply, ahead: reply.now - Date.now() }
}
