// What was just done, said once, with the way back.
import { useState, type ReactNode } from 'react'
import { useAct } from '../../hub/queries.ts'
import { Failed } from '../../shell/states.tsx'

export interface DoneAct {
  readonly change: number
  readonly sentence: string
}

export function Done({ act, onGone }: { readonly act: DoneAct | null; readonly onGone: () => void }): ReactNode {
  const undo = useAct('undo')
  const [undone, setUndone] = useState<number | null>(null)
  return (
    <div role="status">
      {act === null ? null : (
        <div className="notice done">
          <p>{undone === act.change ? 'Taken back.' : act.sentence}</p>
          <p>
            {undone === act.change ? null : (
              <button type="button" className="button-quiet" disabled={undo.isPending} onClick={() => undo.mutate({ params: { seq: String(act.change) }, input: { why: '' } }, { onSuccess: () => setUndone(act.change) })}>
                Undo
              </button>
            )}{' '}
            <button type="button" className="button-quiet" onClick={onGone}>
              Close
            </button>
          </p>
          {undo.isError ? <Failed error={undo.error} /> : null}
        </div>
      )}
    </div>
  )
}
