// Sorting a tray into bins: each sample with the evidence beside it, one key a sample, or every suggestion at once.
import { useRef, useState, type KeyboardEvent, type ReactNode } from 'react'
import type { BinRow, PartWhole } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import type { Sample } from '@guardband/model/records/parts'
import { Link } from '@tanstack/react-router'
import { useApply } from '../../hub/apply.ts'
import { useHub } from '../../hub/queries.ts'
import { ReasonDialog } from '../../pieces/dialog.tsx'
import { Failed } from '../../shell/states.tsx'
import type { DoneAct } from './done.tsx'
import { findingText, StateMark, type State } from './finding-words.tsx'

type Line = PartWhole['samples'][number]

interface Against {
  readonly line: Line
  readonly row: BinRow
  readonly state: State
}

export function SortingList({ whole, onDone }: { readonly whole: PartWhole; readonly onDone: (act: DoneAct) => void }): ReactNode {
  const apply = useApply()
  const who = useHub('who').data?.who
  const [shown, setShown] = useState<'to sort' | 'all'>('to sort')
  const [most, setMost] = useState(PAGE)
  const [against, setAgainst] = useState<Against | null>(null)
  const list = useRef<HTMLUListElement>(null)
  const onItsWay = useRef(new Set<string>())
  const open = whole.samples.filter((line) => line.sample.bin === undefined)
  const lines = shown === 'to sort' ? open : whole.samples
  // Whoever may still earn a dearer bin, or may not be sold, is not sorted along with the rest.
  const suggested = open.filter(({ sample, sorting }) => sorting.suggestedId !== null && sorting.openAboveIds.length === 0 && sample.status !== 'wet' && sample.status !== 'quarantined')

  const sort = (chosen: readonly { readonly line: Line; readonly row: BinRow; readonly reason?: string }[], then?: () => void): void => {
    if (who === undefined || chosen.length === 0) return
    const at = new Date().toISOString()
    const items = chosen.map(({ line, row, reason }) => ({
      before: line.sample,
      after: { ...line.sample, bin: { binId: row.bin.id, at, by: who, ...(reason === undefined ? {} : { reason }) } } satisfies Sample,
    }))
    const [first] = chosen
    const what = chosen.length === 1 && first !== undefined ? `Sorted ${whole.part.name}, ${first.line.sample.label} into ${first.row.bin.name}` : `Sorted ${counted(chosen.length, 'sample')} of ${whole.part.name} into bins`
    const ids = chosen.map(({ line }) => line.sample.id)
    for (const id of ids) onItsWay.current.add(id)
    const send = async (): Promise<void> => {
      try {
        const change = await apply.mutateAsync({ what, ...(first?.reason === undefined ? {} : { why: first.reason }), items })
        onDone({ change, sentence: `${what}.` })
        then?.()
      } catch {
        // The page shows what went wrong.
      } finally {
        for (const id of ids) onItsWay.current.delete(id)
      }
    }
    void send()
  }
  const choose = (line: Line, row: BinRow): void => {
    const state = line.sorting.bins.find(({ binId }) => binId === row.bin.id)?.state ?? 'open'
    if (state === 'met') sort([{ line, row }])
    else setAgainst({ line, row, state })
  }
  const rowOf = (binId: string | null): BinRow | undefined => whole.bins.find(({ bin }) => bin.id === binId)
  /** The next line has the focus before this one goes. */
  const goTo = (from: HTMLElement, step: 1 | -1): void => {
    const keys = [...(list.current?.querySelectorAll<HTMLElement>('.sort-key') ?? [])]
    keys[keys.indexOf(from) + step]?.focus()
  }
  const take = (from: HTMLElement, line: Line, row: BinRow | undefined): void => {
    // Keys come faster than replies: only the sample that is on its way has to wait.
    if (row === undefined || onItsWay.current.has(line.sample.id)) return
    goTo(from, 1)
    choose(line, row)
  }
  const onKey = (event: KeyboardEvent<HTMLButtonElement>, line: Line): void => {
    const row = /^[1-9]$/.test(event.key) ? whole.bins[Number(event.key) - 1] : undefined
    const step = event.key === 'ArrowDown' ? 1 : event.key === 'ArrowUp' ? -1 : null
    if (row === undefined && step === null) return
    event.preventDefault()
    if (step === null) take(event.currentTarget, line, row)
    else goTo(event.currentTarget, step)
  }
  return (
    <div className="sorting">
      <h3 className="with-side">
        Sort the samples
        <small className="side">{open.length === 0 ? 'all are sorted' : `${counted(open.length, 'sample')} to sort`}</small>
      </h3>
      <p className="hint">On a sample's label, press the number of a bin, or Enter for the one suggested; arrows move on.</p>
      <div className="buttons">
        {suggested.length === 0 ? null : (
          <button
            type="button"
            className="button button-main"
            disabled={apply.isPending || who === undefined}
            onClick={() =>
              sort(
                suggested.flatMap((line) => {
                  const row = rowOf(line.sorting.suggestedId)
                  return row === undefined ? [] : [{ line, row }]
                }),
              )
            }
          >
            Confirm {suggested.length === 1 ? 'the one that is clear' : `the ${suggested.length} that are clear`}
          </button>
        )}
        {open.length === whole.samples.length ? null : (
          <button type="button" className="button" onClick={() => setShown(shown === 'all' ? 'to sort' : 'all')}>
            {shown === 'all' ? 'Show those to sort' : 'Show sorted ones too'}
          </button>
        )}
      </div>
      {apply.isError ? <Failed error={apply.error} /> : null}
      <ul ref={list} className="sort-lines">
        {lines.slice(0, most).map((line) => (
          <SortLine key={line.sample.id} line={line} bins={whole.bins} busy={apply.isPending || who === undefined} onChoose={(row) => choose(line, row)} onKey={(event) => onKey(event, line)} onTake={(from) => take(from, line, rowOf(line.sorting.suggestedId))} />
        ))}
      </ul>
      {lines.length <= most ? null : (
        <p>
          <button type="button" className="button" onClick={() => setMost(most + PAGE)}>
            Show {Math.min(PAGE, lines.length - most)} more of {lines.length}
          </button>
        </p>
      )}
      {against === null ? null : (
        <ReasonDialog
          title={`${against.line.sample.label} into ${against.row.bin.name}`}
          explain={against.state === 'open' ? 'Its runs do not show yet what this bin asks for. The reason stands with the sample.' : 'Its runs speak against what this bin asks for. The reason stands with the sample.'}
          label="Why all the same"
          act="Sort it there"
          busy={apply.isPending}
          problem={apply.isError ? <Failed error={apply.error} /> : null}
          onClose={() => setAgainst(null)}
          onReason={(reason) => (reason === '' ? undefined : sort([{ line: against.line, row: against.row, reason }], () => setAgainst(null)))}
        />
      )}
    </div>
  )
}

function SortLine(props: { readonly line: Line; readonly bins: readonly BinRow[]; readonly busy: boolean; readonly onChoose: (row: BinRow) => void; readonly onKey: (event: KeyboardEvent<HTMLButtonElement>) => void; readonly onTake: (from: HTMLElement) => void }): ReactNode {
  const { line, bins, busy, onChoose, onKey, onTake } = props
  const { sample, sorting } = line
  const inside = bins.find(({ bin }) => bin.id === sample.bin?.binId)
  const suggested = bins.find(({ bin }) => bin.id === sorting.suggestedId)
  const above = bins.filter(({ bin }) => sorting.openAboveIds.includes(bin.id))
  return (
    <li>
      <p className="sort-head">
        <button
          type="button"
          className="button-quiet sort-key"
          onKeyDown={onKey}
          onClick={(event) => onTake(event.currentTarget)}
          aria-label={`${sample.label}${inside === undefined ? ', not sorted' : `, in ${inside.bin.name}`}${suggested === undefined ? '' : `, suggested: ${suggested.bin.name}`}`}
        >
          {sample.label}
        </button>{' '}
        <span className="soft">
          {sample.status === 'wet' || sample.status === 'quarantined' ? `${sample.status}. ` : ''}
          {inside === undefined ? '' : `In "${inside.bin.name}". `}
          {suggestionText({ suggested, above, inside })}
        </span>{' '}
        <Link to="/samples/$id" params={{ id: sample.id }}>
          {sample.label} in full
        </Link>
      </p>
      <SortEvidence bins={bins} sorting={sorting} />
      <p className="sort-bins">
        {bins.map((row, place) => (
          <button key={row.bin.id} type="button" className={row.bin.id === sorting.suggestedId ? 'button button-suggested' : 'button'} disabled={busy || row.bin.id === sample.bin?.binId} onClick={() => onChoose(row)} aria-label={`${place < MOST_DIGITS ? `${place + 1} ` : ''}${row.bin.name}, for ${sample.label}`}>
            {place < MOST_DIGITS ? <kbd>{place + 1}</kbd> : null} {row.bin.name}
          </button>
        ))}
      </p>
    </li>
  )
}

/** A bin that asks for nothing is no finding of the runs. */
export function suggestionText({ suggested, above, inside }: { readonly suggested: BinRow | undefined; readonly above: readonly BinRow[]; readonly inside: BinRow | undefined }): string {
  const more = above.length === 0 ? '' : ` More runs could still show ${above.map(({ bin }) => `"${bin.name}"`).join(' or ')}.`
  if (suggested === undefined) return `No bin is met yet.${more}`
  if (inside?.bin.id === suggested.bin.id) return `As its runs say.${more}`
  return `${suggested.criteria.length === 0 ? `Only "${suggested.bin.name}" is left, which asks for nothing.` : `Its runs say "${suggested.bin.name}".`}${more}`
}

export function SortEvidence({ bins, sorting }: { readonly bins: readonly BinRow[]; readonly sorting: Line['sorting'] }): ReactNode {
  return (
    <dl className="sort-evidence">
      {sorting.bins.map((found) => {
        const row = bins.find(({ bin }) => bin.id === found.binId)
        if (row === undefined || row.criteria.length === 0) return null
        return (
          <div key={found.binId}>
            <dt>
              <span className={`state state-${found.state === 'not met' ? 'not-met' : found.state}`}>
                <StateMark state={found.state} /> {row.bin.name}: {found.state}
              </span>
            </dt>
            {found.criteria.map((finding, place) => {
              const criterion = row.criteria[place]
              const what = row.bin.criteria[place]?.what
              return criterion === undefined || what === undefined ? null : (
                <dd key={criterion.text} className={`state-${finding.state === 'not met' ? 'not-met' : finding.state}`}>
                  <span className="asked">{criterion.text}:</span> {found.criteria.length > 1 ? <b>{finding.state}, </b> : null}
                  {findingText(finding, { unit: criterion.unit, what })}
                </dd>
              )
            })}
          </div>
        )
      })}
    </dl>
  )
}

const PAGE = 25
const MOST_DIGITS = 9
