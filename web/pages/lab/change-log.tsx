// The change log: who changed what, when and why; any entry can be undone by a new one.
import { useState, type ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { Change } from '@guardband/model/change'
import { counted } from '@guardband/model/figures'
import { useAct, useHub } from '../../hub/queries.ts'
import { ReasonDialog } from '../../pieces/dialog.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { Unfold } from '../../pieces/unfold.tsx'
import { When } from '../../pieces/when.tsx'
import { Failed, Loaded } from '../../shell/states.tsx'
import { ChangeItems } from './change-items.tsx'

export function ChangeLog({ before }: { readonly before: number | undefined }): ReactNode {
  const changes = useHub('changes', { input: { count: PAGE, ...(before === undefined ? {} : { before }) } })
  const [chosen, setChosen] = useState<Change | null>(null)
  return (
    <section>
      <Loaded query={changes} what="the change log">
        {(reply) => {
          const last = reply.changes.at(-1)
          return (
            <>
              {reply.changes.length === 0 ? <p className="soft">No changes{before === undefined ? ' yet' : ' before this'}.</p> : null}
              {reply.changes.length === 0 ? null : (
                <Ledger
                  label="Changes, newest first"
                  columns={[
                    {
                      header: 'what',
                      wide: true,
                      render: (change) => (
                        <>
                          {change.what}
                          {change.why === undefined || change.why === '' ? null : <small>{change.why}</small>}
                          <Unfold title={counted(change.items, 'record')} about={`entry ${change.seq}`}>
                            <ChangeItems seq={change.seq} />
                          </Unfold>
                        </>
                      ),
                    },
                    { header: 'entry', align: 'number', render: (change) => change.seq },
                    { header: 'who', render: (change) => <span className="unbroken">{change.who}</span> },
                    { header: 'when', render: (change) => <When at={change.at} /> },
                    {
                      header: 'undo',
                      // The entry that made the workspace holds the record of the workspace itself.
                      render: (change) =>
                        change.seq === 1 ? null : change.undoneBy === undefined ? (
                          <button type="button" className="button-quiet" onClick={() => setChosen(change)} aria-label={`Undo entry ${change.seq}: ${change.what}`}>
                            Undo
                          </button>
                        ) : (
                          <span className="soft">undone by entry {change.undoneBy}</span>
                        ),
                      empty: (change) => change.seq === 1,
                    },
                  ]}
                  rows={reply.changes}
                  keyOf={(change) => String(change.seq)}
                />
              )}
              <nav className="pager" aria-label="Pages of the change log">
                {before === undefined ? null : (
                  <Link to="/lab/changes" search={{}}>
                    Newest
                  </Link>
                )}
                {last === undefined || last.seq === 1 || reply.changes.length < PAGE ? null : (
                  <Link to="/lab/changes" search={{ before: last.seq }}>
                    Older
                  </Link>
                )}
              </nav>
            </>
          )
        }}
      </Loaded>
      {chosen === null ? null : <UndoDialog change={chosen} onClose={() => setChosen(null)} />}
    </section>
  )
}

function UndoDialog({ change, onClose }: { readonly change: Change; readonly onClose: () => void }): ReactNode {
  const undo = useAct('undo')
  return (
    <ReasonDialog
      title={`Undo entry ${change.seq}`}
      explain={`${change.what}. A new entry takes it back; both stay in the log.`}
      label="Why (may stay empty)"
      act="Undo"
      optional
      busy={undo.isPending}
      problem={undo.isError ? <Failed error={undo.error} /> : null}
      onClose={onClose}
      onReason={(why) => undo.mutate({ params: { seq: String(change.seq) }, input: { why } }, { onSuccess: onClose })}
    />
  )
}

const PAGE = 50
