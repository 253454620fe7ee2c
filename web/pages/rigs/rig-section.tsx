// One rig: what sits in which slot, the mounting of its cooler, the conditions that carry forward, and its timeline.
import { useState, type ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { RigRow } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import type { Assembly } from '@guardband/model/records/parts'
import { assemblyNow, mountNow } from '@guardband/model/seating'
import { Ledger } from '../../pieces/ledger.tsx'
import { Day, When } from '../../pieces/when.tsx'
import type { DoneAct } from '../parts/done.tsx'
import { MountDialog, mountText } from './mount-dialog.tsx'
import { RigDialog } from './rig-dialog.tsx'
import { RigCautions, RigPast } from './rig-past.tsx'
import { SeatDialog } from './seat-dialog.tsx'

type Slot = Assembly['slots'][number]
type Open = { readonly what: 'rename' | 'add slot' | 'mount' } | { readonly what: 'swap'; readonly slot: Slot }

export function RigSection({ row, rows, onDone }: { readonly row: RigRow; readonly rows: readonly RigRow[]; readonly onDone: (act: DoneAct) => void }): ReactNode {
  const { rig } = row
  const [open, setOpen] = useState<Open | null>(null)
  const [past, setPast] = useState(false)
  const assemblies = row.assemblies.map(({ assembly }) => assembly)
  const now = assemblyNow(assemblies, rig.id)
  const names = row.assemblies.find(({ assembly }) => assembly.id === now?.id)?.slots ?? []
  const mount = mountNow(
    assemblies,
    row.assemblies.flatMap(({ mounts }) => mounts),
    rig.id,
  )
  const close = (): void => setOpen(null)
  const finish = (act: DoneAct): void => {
    close()
    onDone(act)
  }
  return (
    <section className="sheet rig" aria-labelledby={`rig-${rig.id}`}>
      <h2 className="with-side" id={`rig-${rig.id}`}>
        {rig.name}
        <small className="side">
          {counted(row.starts, 'start')}
          {row.journals > 0 ? ` · ${counted(row.journals, 'journal')}` : ''}
          {row.lastStart === null ? null : (
            <>
              {' · last '}
              <When at={row.lastStart} />
            </>
          )}
        </small>
      </h2>
      {rig.note === undefined ? null : <p className="soft">{rig.note}</p>}
      {row.journals === 0 ? null : <RigCautions id={rig.id} />}
      {now === undefined || now.slots.length === 0 ? (
        <p className="soft">{now === undefined ? 'Nothing is known of what sits in it.' : 'Nothing sits in it.'}</p>
      ) : (
        <Ledger
          label={`What sits in ${rig.name}`}
          columns={[
            { header: 'slot', render: ({ slot }) => `${slot.slot}${slot.position === undefined ? '' : `, ${slot.position}`}` },
            {
              header: 'what sits there',
              render: ({ slot, name }) => (
                <>
                  {name?.part}{' '}
                  <Link to="/samples/$id" params={{ id: slot.sampleId }}>
                    {name?.sample === name?.part ? 'its page' : name?.sample}
                  </Link>
                </>
              ),
            },
            { header: 'since', render: ({ slot }) => <Day at={sinceOf(assemblies, slot)} /> },
            {
              header: 'swap',
              unseen: true,
              render: ({ slot, name }) => (
                <button type="button" className="button-quiet" onClick={() => setOpen({ what: 'swap', slot })} aria-label={`Swap the ${slot.slot}${slot.position === undefined ? '' : ` ${slot.position}`} of ${rig.name}, now ${name?.part ?? ''} ${name?.sample ?? ''}`}>
                  Swap
                </button>
              ),
            },
          ]}
          rows={now.slots.map((slot, place) => ({ slot, name: names[place] }))}
          keyOf={({ slot }) => `${slot.slot}|${slot.position ?? ''}|${slot.sampleId}`}
        />
      )}
      <p className="mount-now">
        <span className="soft">cooler</span>{' '}
        {mount === undefined ? (
          row.assemblies.some(({ mounts }) => mounts.length > 0) ? 'Nobody entered how it was mounted since what is under it changed.' : 'Nobody entered how it is mounted.'
        ) : (
          <>
            mounted <Day at={mount.at} />
            {mountText(mount) === '' ? '' : `: ${mountText(mount)}`}
          </>
        )}
      </p>
      <div className="buttons">
        <button type="button" className="button" onClick={() => setOpen({ what: 'add slot' })} aria-label={`Put a sample in, ${rig.name}`}>
          Put a sample in
        </button>
        {now === undefined ? null : (
          <button type="button" className="button" onClick={() => setOpen({ what: 'mount' })} aria-label={`Enter a remount of the cooler of ${rig.name}`}>
            Enter a remount
          </button>
        )}
        <button type="button" className="button" onClick={() => setOpen({ what: 'rename' })} aria-label={`Rename ${rig.name}`}>
          Rename
        </button>
      </div>
      {row.starts === 0 && row.assemblies.length === 0 ? null : (
        <details className="more-quiet" onToggle={(event) => setPast(event.currentTarget.open)}>
          <summary>
            Last conditions, and what happened on it
          </summary>
          {past ? <RigPast row={row} /> : null}
        </details>
      )}
      {open?.what === 'rename' ? <RigDialog rig={rig} rows={rows} onClose={close} /> : null}
      {open?.what === 'add slot' ? <SeatDialog row={row} rows={rows} mount={mount} onClose={close} onDone={finish} /> : null}
      {open?.what === 'swap' ? <SeatDialog row={row} rows={rows} mount={mount} slot={open.slot} onClose={close} onDone={finish} /> : null}
      {open?.what === 'mount' && now !== undefined ? <MountDialog rig={rig} assembly={now} {...(mount === undefined ? {} : { last: mount })} onClose={close} onDone={finish} /> : null}
    </section>
  )
}

/** Since when the sample sits there without having been away. */
function sinceOf(assemblies: readonly Assembly[], wanted: Slot): string {
  let since = ''
  for (const assembly of assemblies.toSorted((a, b) => Date.parse(b.since) - Date.parse(a.since))) {
    if (!assembly.slots.some((slot) => slot.sampleId === wanted.sampleId && slot.slot === wanted.slot && slot.position === wanted.position)) break
    since = assembly.since
  }
  return since
}
