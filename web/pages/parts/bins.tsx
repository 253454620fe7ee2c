// The bins of a part: what each asks and costs, and its samples sorted into them.
import { useState, type ReactNode } from 'react'
import type { BinRow, PartWhole } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import { useApply } from '../../hub/apply.ts'
import { ReasonDialog } from '../../pieces/dialog.tsx'
import { Failed } from '../../shell/states.tsx'
import { BinDialog } from './bin-dialog.tsx'
import type { DoneAct } from './done.tsx'
import { LatestPrice, PriceDialog } from './prices.tsx'
import { SortingList } from './sorting.tsx'

type Open = { readonly what: 'add' } | { readonly what: 'change' | 'price' | 'remove'; readonly row: BinRow }

export function BinsSection({ whole, onDone }: { readonly whole: PartWhole; readonly onDone: (act: DoneAct) => void }): ReactNode {
  const { part, bins, samples } = whole
  const [open, setOpen] = useState<Open | null>(null)
  const close = (): void => setOpen(null)
  return (
    <section className="sheet">
      <h2 className="with-side">
        Bins <small className="side">{bins.length === 0 ? '' : 'dearest first'}</small>
      </h2>
      {bins.length === 0 ? (
        <p className="soft">No bin yet. A bin has a name, a price, and what a sample must have shown to be sold as it.</p>
      ) : (
        <ul className="bins">
          {bins.map((row) => (
            <li key={row.bin.id}>
              <h3 className="with-side">
                {row.bin.name}
                <small className="side">
                  <LatestPrice of={row.bin} />, {counted(samples.filter(({ sample }) => sample.bin?.binId === row.bin.id).length, 'sample')} in it
                </small>
              </h3>
              {row.criteria.length === 0 ? (
                <p>Asks for nothing: every sample may go into it.</p>
              ) : (
                <ul className="plain">
                  {row.criteria.map(({ text }) => (
                    <li key={text}>{text}</li>
                  ))}
                </ul>
              )}
              {row.bin.note === undefined ? null : <p className="soft">{row.bin.note}</p>}
              <p className="inline-acts">
                <button type="button" className="button-quiet" onClick={() => setOpen({ what: 'change', row })} aria-label={`Change bin ${row.bin.name}`}>
                  Change
                </button>{' '}
                <button type="button" className="button-quiet" onClick={() => setOpen({ what: 'price', row })} aria-label={`New price of bin ${row.bin.name}`}>
                  New price
                </button>{' '}
                <button type="button" className="button-quiet" onClick={() => setOpen({ what: 'remove', row })} aria-label={`Take out bin ${row.bin.name}`}>
                  Take out
                </button>
              </p>
            </li>
          ))}
        </ul>
      )}
      <div className="buttons">
        <button type="button" className="button" onClick={() => setOpen({ what: 'add' })}>
          Add a bin
        </button>
      </div>
      {bins.length === 0 || samples.length === 0 ? null : <SortingList whole={whole} onDone={onDone} />}
      {open?.what === 'add' ? <BinDialog part={part} onClose={close} /> : null}
      {open?.what === 'change' ? <BinDialog part={part} bin={open.row.bin} onClose={close} /> : null}
      {open?.what === 'price' ? <PriceDialog of={open.row.bin} onClose={close} /> : null}
      {open?.what === 'remove' ? <RemoveBin whole={whole} row={open.row} onClose={close} onDone={onDone} /> : null}
    </section>
  )
}

/** Samples in it are unsorted in the same change. */
function RemoveBin({ whole, row, onClose, onDone }: { readonly whole: PartWhole; readonly row: BinRow; readonly onClose: () => void; readonly onDone: (act: DoneAct) => void }): ReactNode {
  const apply = useApply()
  const inside = whole.samples.filter(({ sample }) => sample.bin?.binId === row.bin.id)
  const what = `Took out the bin ${row.bin.name} of ${whole.part.name}`
  const send = (reason: string): void => {
    const items = inside.map(({ sample }) => {
      const { bin: _bin, ...after } = sample
      return { before: sample, after }
    })
    apply.mutate(
      { what, ...(reason === '' ? {} : { why: reason }), items: [...items, { before: row.bin, after: null }] },
      {
        onSuccess: (change) => {
          onDone({ change, sentence: `${what}.` })
          onClose()
        },
      },
    )
  }
  return (
    <ReasonDialog
      title={`Take out ${row.bin.name}`}
      explain={inside.length === 0 ? 'No sample is in it.' : `${counted(inside.length, 'sample')} in it will be in no bin.`}
      label="Why (if there is more to say)"
      act="Take it out"
      optional
      busy={apply.isPending}
      problem={apply.isError ? <Failed error={apply.error} /> : null}
      onClose={onClose}
      onReason={send}
    />
  )
}
