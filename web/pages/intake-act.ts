// One file on its way in: sent once, looked at again under every correction, followed while it is read and written, let go where the page is left.
import { useCallback, useEffect, useRef, useState } from 'react'
import { useQueryClient } from '@tanstack/react-query'
import type { IntakeChoices, IntakeReply } from '@guardband/model/api'
import { call, HubError } from '../hub/client.ts'
import { newId } from '../hub/new-id.ts'

export interface Source {
  readonly file: string
  readonly text: Blob | string
}

export interface Intake {
  readonly source: Source | null
  readonly choices: IntakeChoices
  readonly reply: IntakeReply | null
  readonly error: Error | null
  /** While something is under way: what, and the share of it. */
  readonly busy: Busy | null
  readonly open: (source: Source) => void
  readonly look: (choices: IntakeChoices) => void
  readonly take: (remember: string | null) => void
  readonly cancel: () => void
}

export interface Busy {
  readonly what: 'sending' | 'reading' | 'booking' | 'writing'
  readonly done: number
}

export function useIntake(): Intake {
  const queries = useQueryClient()
  const [source, setSource] = useState<Source | null>(null)
  const [choices, setChoices] = useState<IntakeChoices>({})
  const [reply, setReply] = useState<IntakeReply | null>(null)
  const [error, setError] = useState<Error | null>(null)
  const [busy, setBusy] = useState<Busy | null>(null)
  const id = useRef<string | null>(null)
  /** Only the newest request may show what it got. */
  const turn = useRef(0)

  const letGo = useCallback((): void => {
    const left = id.current
    id.current = null
    // Whether the hub still had it makes no difference.
    if (left !== null) void call('intakeCancel', { params: { id: left } }).catch(() => undefined)
  }, [])
  useEffect(() => letGo, [letGo])

  const send = (file: Source): Promise<IntakeReply> => {
    letGo()
    id.current = newId()
    return call('intakeSend', { params: { id: id.current }, input: { file: file.file, zone: homeZone() }, text: file.text })
  }
  const kept = (): Readonly<Record<string, string>> => ({ id: id.current ?? '' })
  const run = (what: Busy['what'], act: () => Promise<IntakeReply>): void => {
    const mine = (turn.current += 1)
    setBusy({ what, done: 0 })
    setError(null)
    const follow = async (): Promise<void> => {
      try {
        const got = await act()
        if (mine !== turn.current) return
        setReply(got)
        if (got.taken) {
          letGo()
          void queries.invalidateQueries()
        }
      } catch (failure) {
        if (mine === turn.current) setError(failure instanceof Error ? failure : new Error(String(failure)))
      } finally {
        if (mine === turn.current) setBusy(null)
      }
    }
    void follow()
  }
  /** The hub keeps a file for a while only; after that it gets it again. */
  const withFile = async (act: () => Promise<IntakeReply>): Promise<IntakeReply> => {
    try {
      if (id.current !== null) return await act()
    } catch (failure) {
      if (!(failure instanceof HubError) || failure.code !== 'no-upload') throw failure
    }
    if (source !== null) await send(source)
    return act()
  }

  const underWay = busy !== null
  useEffect(() => {
    if (!underWay) return
    const look = async (): Promise<void> => {
      if (id.current === null) return
      try {
        const { doing, done } = await call('intakeProgress', { params: { id: id.current } })
        if (doing !== 'nothing') setBusy((now) => (now === null ? null : { what: doing, done }))
      } catch {
        // Before the file is whole the hub knows nothing of it.
      }
    }
    const timer = setInterval(() => void look(), POLL_MS)
    return () => clearInterval(timer)
  }, [underWay])

  return {
    source, choices, reply, error, busy,
    open: (next) => {
      setSource(next)
      setChoices({})
      setReply(null)
      run('sending', () => send(next))
    },
    look: (next) => {
      setChoices(next)
      run('reading', () => withFile(() => call('intakeLook', { params: kept(), input: { choices: next } })))
    },
    take: (remember) => {
      run('writing', () => withFile(() => call('intakeTake', { params: kept(), input: { choices, ...(remember === null ? {} : { remember }) } })))
    },
    cancel: () => {
      turn.current += 1
      letGo()
      setBusy(null)
      setReply(null)
      setSource(null)
    },
  }
}

const POLL_MS = 300

function homeZone(): string {
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone
  return zone === 'UTC' || zone === '' ? 'Z' : zone
}
