// Reading from and writing to the hub inside React: one hook to read, one to act. Every act makes the pages read again.
import { useEffect } from 'react'
import { keepPreviousData, QueryClient, useMutation, useQuery, useQueryClient } from '@tanstack/react-query'
import type { UseMutationResult, UseQueryResult } from '@tanstack/react-query'
import type { Answer, AnswerReply } from '@guardband/model'
import type { RouteName } from '@guardband/model/api'
import { call, HubError, type CallOptions, type RouteIn, type RouteOut } from './client.ts'

export function createQueries(): QueryClient {
  return new QueryClient({
    defaultOptions: {
      queries: { staleTime: FRESH_MS, retry: (failures, error) => error instanceof HubError && error.code === 'hub-silent' && failures < SILENT_RETRIES, retryDelay: RETRY_MS },
    },
  })
}

export function useHub<Name extends RouteName>(name: Name, options: Omit<CallOptions<Name>, 'signal'> & { readonly skip?: true } = {}): UseQueryResult<RouteOut<Name>> {
  const { skip, ...request } = options
  return useQuery({
    queryKey: [name, request.params ?? null, request.input ?? null],
    queryFn: ({ signal }) => call(name, { ...request, signal }),
    enabled: skip !== true,
    placeholderData: keepPreviousData,
  })
}

export function useAct<Name extends RouteName>(name: Name): UseMutationResult<RouteOut<Name>, Error, Omit<CallOptions<Name>, 'signal'>> {
  const queries = useQueryClient()
  return useMutation({
    mutationFn: (options: Omit<CallOptions<Name>, 'signal'>) => call(name, options),
    // What the act changed is read again everywhere; the act itself is not held up by it.
    onSuccess: () => void queries.invalidateQueries(),
  })
}

export interface ShownAnswer {
  readonly reply: AnswerReply
  /** The last whole answer, kept on the page while a newer one is computed. */
  readonly answer: Answer | null
  /** True when `answer` took the place of another one while the page was open. */
  readonly replaced: boolean
}

/** The answer of a question, read again every second while it is being computed. */
export function useAnswer(id: string, options: { readonly skip?: true } = {}): UseQueryResult<ShownAnswer> {
  const queries = useQueryClient()
  return useQuery({
    queryKey: answerKey(id),
    queryFn: ({ signal }) => readAnswer(queries, id, signal, { wait: PATIENCE_MS }),
    enabled: options.skip !== true,
    refetchInterval: (query) => (query.state.data?.reply.state === 'computing' ? COMPUTING_POLL_MS : false),
  })
}

/** Begins a computation that was cancelled or failed anew; what is shown follows it. */
export function useBeginAgain(id: string): UseMutationResult<ShownAnswer, Error, void> {
  const queries = useQueryClient()
  return useMutation({
    mutationFn: async () => {
      await queries.cancelQueries({ queryKey: answerKey(id) })
      return readAnswer(queries, id, new AbortController().signal, { begin: 'again' })
    },
    onSuccess: (shown) => void queries.setQueryData(answerKey(id), shown),
  })
}

/** Has the hub work out answers that are missing or out of date; its events then make the lists read again. */
export function useUpToDate(ids: readonly string[]): void {
  const queries = useQueryClient()
  const wanted = ids.slice(0, MOST_AT_ONCE).join(' ')
  useEffect(() => {
    for (const id of wanted.split(' ').filter((part) => part !== '')) {
      // Whatever goes wrong is said on the answer's own page.
      void queries.prefetchQuery({ queryKey: answerKey(id), queryFn: ({ signal }) => readAnswer(queries, id, signal) })
    }
  }, [queries, wanted])
}

export function answerKey(id: string): readonly unknown[] {
  return ['answer', id]
}

async function readAnswer(queries: QueryClient, id: string, signal: AbortSignal, input: Partial<RouteIn<'answer'>> = {}): Promise<ShownAnswer> {
  const reply = await call('answer', { params: { id }, input, signal })
  const before = queries.getQueryData<ShownAnswer>(answerKey(id))
  if (reply.state !== 'ready') return { reply, answer: before?.answer ?? null, replaced: before?.replaced ?? false }
  const other = before?.answer != null && before.answer.snapshotDigest !== reply.answer.snapshotDigest
  return { reply, answer: reply.answer, replaced: other || (before?.replaced ?? false) }
}

/** Enough for a long list; a workspace with more catches up as they are looked at. */
const MOST_AT_ONCE = 24
/** Events of the hub make pages read again; this only spares reads while a person moves between pages. */
const FRESH_MS = 20_000
const SILENT_RETRIES = 2
const RETRY_MS = 800
const COMPUTING_POLL_MS = 1000
/** Most answers are there by then; a page with nothing else to show loses nothing by waiting so long before it shows progress. */
const PATIENCE_MS = 500
