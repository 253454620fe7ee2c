// Says to those who hear the page what turned while they were elsewhere on it: a question, an end. Heartbeats are no news.
import { useEffect, useRef, useState, type ReactNode } from 'react'
import type { LiveRig } from '@guardband/model/api'
import { newsOf } from '../../pieces/live-words.ts'

export function LiveNews({ rigs }: { readonly rigs: readonly LiveRig[] | undefined }): ReactNode {
  const before = useRef<readonly LiveRig[]>(undefined)
  const [news, setNews] = useState('')
  useEffect(() => {
    if (rigs === undefined) return
    const said = before.current === undefined ? '' : newsOf(before.current, rigs)
    before.current = rigs
    if (said !== '') setNews(said)
  }, [rigs])
  return (
    <p className="unseen" role="status">
      {news}
    </p>
  )
}
