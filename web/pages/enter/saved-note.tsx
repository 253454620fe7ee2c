// How many entries are not yet on the hub's disk, and why, in words.
import type { ReactNode } from 'react'
import { counted } from '@guardband/model/figures'
import type { OutboxEntry } from '../../hub/outbox.ts'

export function SavedNote({ entries, trouble, questioned }: { readonly entries: readonly OutboxEntry[]; readonly trouble: string | null; readonly questioned: number }): ReactNode {
  const refused = entries.filter(({ state }) => state === 'refused').length
  const held = entries.filter(({ state }) => state === 'held').length
  const waiting = entries.length - refused - held
  if (entries.length === 0 && questioned === 0) return <span className="saved-note">Everything entered is saved.</span>
  const parts = [
    ...(waiting > 0 ? [`${counted(waiting, 'entry', 'entries')} not yet saved${trouble === null ? '' : ', kept in this browser and sent again by itself'}`] : []),
    ...(refused > 0 ? [`${counted(refused, 'entry', 'entries')} refused`] : []),
    ...(questioned > 0 ? [`${counted(questioned, 'figure')} questioned, not saved`] : []),
    ...(held > 0 ? [`${counted(held, 'entry', 'entries')} waiting for what was refused`] : []),
  ]
  return (
    <span className={trouble === null && refused === 0 ? 'saved-note' : 'saved-note saved-note-warns'} role={trouble === null && refused === 0 ? undefined : 'status'}>
      {parts.join('; ')}.{trouble === null ? '' : ` ${trouble}`}
    </span>
  )
}
