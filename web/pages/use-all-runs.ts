// All runs, read a block at a time, for filters that must look at each.
import { useEffect } from 'react'
import { useInfiniteQuery } from '@tanstack/react-query'
import type { RunRow } from '@guardband/model/api'
import { call } from '../hub/client.ts'

export interface AllRuns {
  readonly rows: readonly RunRow[]
  /** Null until the first block is there. */
  readonly total: number | null
  readonly error: Error | null
  readonly again: () => void
}

export function useAllRuns(wanted: boolean): AllRuns {
  const query = useInfiniteQuery({
    queryKey: ['runs', 'all'],
    queryFn: ({ pageParam, signal }) => call('runs', { input: { from: pageParam, count: BLOCK }, signal }),
    initialPageParam: 0,
    getNextPageParam: (last, pages) => {
      const read = pages.reduce((sum, page) => sum + page.rows.length, 0)
      return last.rows.length > 0 && read < last.total ? read : undefined
    },
    enabled: wanted,
  })
  const { hasNextPage, isFetching, fetchNextPage, isError } = query
  useEffect(() => {
    if (wanted && hasNextPage && !isFetching && !isError) void fetchNextPage()
  }, [wanted, hasNextPage, isFetching, isError, fetchNextPage])
  const pages = query.data?.pages ?? []
  return { rows: pages.flatMap((page) => page.rows), total: pages[0]?.total ?? null, error: query.error, again: () => void query.refetch() }
}

/** The most that the hub hands out at once. */
const BLOCK = 500
