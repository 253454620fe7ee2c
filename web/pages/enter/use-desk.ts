// The desk of one sheet inside React: read once, then kept by what is entered here and what others change.
import { useEffect, useMemo, useState, useSyncExternalStore } from 'react'
import { z } from 'zod'
import type { SheetWhole } from '@guardband/model/api/sheets'
import { changeItemSchema } from '@guardband/model/change'
import { idSchema } from '@guardband/model/ids'
import type { SheetNames } from '@guardband/model/sheet-words'
import { call } from '../../hub/client.ts'
import { newId } from '../../hub/new-id.ts'
import { pageOutbox } from '../../hub/page-outbox.ts'
import { useHub } from '../../hub/queries.ts'
import { createDesk, type Desk, type DeskState, type Made } from './desk.ts'

/** Undefined until the sheet was read. */
export function useDesk(sheetId: string, labId: string, names: () => SheetNames): { readonly desk: Desk | undefined; readonly error: Error | null; readonly again: () => void } {
  const [whole, setWhole] = useState<SheetWhole | undefined>(undefined)
  const [error, setError] = useState<Error | null>(null)
  const [tries, setTries] = useState(0)
  useEffect(() => {
    let wanted = tries >= 0
    const load = async (): Promise<void> => {
      try {
        const read = await call('sheet', { params: { id: sheetId } })
        if (wanted) setWhole(read)
      } catch (reason) {
        if (wanted) setError(reason instanceof Error ? reason : new Error(String(reason)))
      }
    }
    void load()
    return () => {
      wanted = false
    }
  }, [sheetId, tries])
  const desk = useMemo(
    () =>
      whole?.sheet.id !== sheetId
        ? undefined
        : createDesk({
            whole, outbox: pageOutbox(labId), names, newId, now: () => Date.now(), read: () => call('sheet', { params: { id: sheetId } }),
            made: readMade(madeKey(sheetId)), keepMade: (made) => sessionStorage.setItem(madeKey(sheetId), JSON.stringify(made)),
          }),
    [whole, labId, names, sheetId],
  )
  useEffect(() => desk?.open(), [desk])
  const head = useHub('lab').data?.head
  useEffect(() => {
    if (head !== undefined) desk?.lookAt(head)
  }, [desk, head])
  return {
    desk,
    error,
    again: () => {
      setError(null)
      setTries(tries + 1)
    },
  }
}

export function useDeskState(desk: Desk): DeskState {
  return useSyncExternalStore(desk.listen, desk.state)
}

function madeKey(sheetId: string): string {
  return `guardband-entered/${sheetId}`
}

function readMade(key: string): readonly Made[] {
  try {
    return madeSchema.parse(JSON.parse(sessionStorage.getItem(key) ?? '[]'))
  } catch {
    return []
  }
}

const madeSchema = z.array(z.strictObject({ request: idSchema, what: z.string(), items: z.array(changeItemSchema) }))
