// On every page: what was entered and is not yet on the hub's disk, sent on from wherever the person is.
import { useCallback, useMemo, useSyncExternalStore, type ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import { counted } from '@guardband/model/figures'
import { pageOutbox } from '../hub/page-outbox.ts'
import { useHub } from '../hub/queries.ts'

export function Unsent(): ReactNode {
  const labId = useHub('lab').data?.lab.id
  return labId === undefined ? null : <UnsentOf labId={labId} />
}

function UnsentOf({ labId }: { readonly labId: string }): ReactNode {
  const outbox = useMemo(() => pageOutbox(labId), [labId])
  const entries = useSyncExternalStore(useCallback((changed: () => void) => outbox.listen(changed), [outbox]), outbox.entries)
  const shown = useSyncExternalStore(useCallback((changed: () => void) => outbox.listen(changed), [outbox]), outbox.trouble)
  const stuck = entries.filter(({ state }) => state !== 'waiting')
  // What goes through at once needs no word.
  if (entries.length === 0 || (shown === null && stuck.length === 0)) return null
  return (
    <p className="unsent" role="status">
      <Link to="/runs/enter" search={{ sheet: entries[0].about }}>
        {counted(entries.length, 'entry', 'entries')} not saved
      </Link>
    </p>
  )
}
