// What is done with the runs chosen in a list: set aside, or brought back, together and for one reason.
import { useState, type ReactNode } from 'react'
import type { RunRow } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import { useAct } from '../hub/queries.ts'
import { ReasonDialog } from '../pieces/dialog.tsx'
import { Failed } from '../shell/states.tsx'

type Act = 'set aside' | 'bring back'

export function KeepRuns({ chosen, rows, onChoose, onDone }: { readonly chosen: readonly RunRow[]; readonly rows: readonly RunRow[]; readonly onChoose: (rows: readonly RunRow[], to: 'chosen' | 'not chosen') => void; readonly onDone: () => void }): ReactNode {
  const [act, setAct] = useState<Act | null>(null)
  const away = chosen.filter((row) => row.setAside !== null)
  const kept = chosen.filter((row) => row.setAside === null)
  return (
    <div className="keep-runs" role="group" aria-label="Runs chosen">
      {chosen.length === 0 ? (
        <p className="hint keys">
          A run is left out of answers only when a person sets it aside and says why: choose it.{' '}
          <span>
            With keys: <kbd>&#8593;</kbd> <kbd>&#8595;</kbd> from run to run, <kbd>Space</kbd> chooses, <kbd>Enter</kbd> opens.
          </span>
        </p>
      ) : (
        <>
          <p role="status">
            {counted(chosen.length, 'run')} chosen{away.length > 0 && kept.length > 0 ? `, ${away.length} of them set aside` : ''}.
          </p>
          {kept.length === 0 ? null : (
            <button type="button" className="button" onClick={() => setAct('set aside')}>
              Set {kept.length === 1 ? 'it' : counted(kept.length, 'run')} aside
            </button>
          )}
          {away.length === 0 ? null : (
            <button type="button" className="button" onClick={() => setAct('bring back')}>
              Bring {away.length === 1 ? 'it' : counted(away.length, 'run')} back
            </button>
          )}
          <button type="button" className="button-quiet" onClick={() => onChoose(rows, 'chosen')}>
            Choose all {rows.length} shown
          </button>
          <button type="button" className="button-quiet" onClick={onDone}>
            Choose none
          </button>
        </>
      )}
      {act === null ? null : <KeepDialog act={act} rows={act === 'set aside' ? kept : away} onClose={() => setAct(null)} onDone={onDone} />}
    </div>
  )
}

export function KeepDialog({ act, rows, onClose, onDone }: { readonly act: Act; readonly rows: readonly RunRow[]; readonly onClose: () => void; readonly onDone: () => void }): ReactNode {
  const keep = useAct('keepRuns')
  const away = act === 'set aside'
  const [first] = rows
  const which = first === undefined ? '' : rows.length === 1 ? `${first.workload}, ${first.sample}, ${first.startLabel}. ` : ''
  const it = rows.length === 1 ? 'It is' : 'They are'
  return (
    <ReasonDialog
      title={`${away ? 'Set' : 'Bring'} ${rows.length === 1 ? 'this run' : counted(rows.length, 'run')} ${away ? 'aside' : 'back'}`}
      explain={`${which}${away ? `${it} kept and shown here; answers leave ${rows.length === 1 ? 'it' : 'them'} out and say how many were. A crash is a result: it is counted, not set aside.` : rows.length === 1 ? `It was set aside: ${first?.setAside ?? ''}` : 'Answers count them again.'}`}
      label={rows.length === 1 ? 'Why' : 'Why, for all of them'}
      act={away ? 'Set aside' : 'Bring back'}
      busy={keep.isPending}
      problem={keep.isError ? <Failed error={keep.error} /> : null}
      onClose={onClose}
      onReason={(reason) =>
        keep.mutate(
          { input: { act, ids: rows.map((row) => row.id), reason } },
          {
            onSuccess: () => {
              onClose()
              onDone()
            },
          },
        )
      }
    />
  )
}
