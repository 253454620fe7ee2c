// The next start: what to swap, which tune to set, how to start; then one tap for how it came up.
import { useEffect, type ReactNode } from 'react'
import type { BenchState } from '@guardband/model/api/phone'
import { assemblyNow, slotsToSwap, type SheetRecords } from '@guardband/model/sheet'
import type { Sheet, SheetStart } from '@guardband/model/records/sheet'
import { placeOf, sampleName, tuneLines, tuneName } from './bench-names.ts'
import type { Enter } from './enter.ts'

export function NextStart({ state, sheet, records, planned, enter }: { readonly state: BenchState; readonly sheet: Sheet; readonly records: SheetRecords; readonly planned: SheetStart; readonly enter: Enter }): ReactNode {
  const { startId } = planned
  const place = placeOf(sheet, planned)
  const now = assemblyNow(sheet.rigId, records.assemblies)
  const swaps = slotsToSwap(planned, now)
  // Newer browsers return a promise from it, which an effect must not hand on.
  useEffect(() => {
    window.scrollTo(0, 0)
  }, [])
  const lines = tuneLines(state, planned.tuneId)
  const named = `start ${place}, ${tuneName(state, planned.tuneId)}`
  return (
    <section className="card" aria-labelledby="next">
      <p className="over">{`Start ${place} of ${sheet.starts.length} · ${HOW[planned.how]}`}</p>
      <h1 id="next">{swaps.length === 0 ? 'Nothing to swap' : 'Swap'}</h1>
      {swaps.length === 0 ? null : (
        <ul className="swaps">
          {swaps.map((swap) => {
            const out = now?.slots.find((held) => held.slot === swap.slot && (held.position ?? '') === (swap.position ?? ''))
            return (
              <li key={`${swap.slot} ${swap.position ?? ''}`}>
                <span className="slot">{[swap.slot, swap.position].filter(Boolean).join(' ')}</span>
                <b>{sampleName(state, swap.sampleId)}</b>
                {out === undefined ? null : <small>out: {sampleName(state, out.sampleId)}</small>}
              </li>
            )
          })}
        </ul>
      )}
      <h2>Set {tuneName(state, planned.tuneId)}</h2>
      {lines.length === 0 ? null : (
        <dl className="settings">
          {lines.map(({ key, value }) => (
            <div key={key}>
              <dt>{key}</dt>
              <dd>{value}</dd>
            </div>
          ))}
        </dl>
      )}
      <h2>How did it come up?</h2>
      <div className="stack">
        <button type="button" className="big main" onClick={() => enter({ what: 'begin', startId, known: 'seen by a person' }, `Began ${named}; tune seen in force`)}>
          Started, tune seen in force
        </button>
        <button type="button" className="big" onClick={() => enter({ what: 'begin', startId, known: 'unverified' }, `Began ${named}; nobody looked what is in force`)}>
          Started, not looked
        </button>
        {FAILED.map((result) => (
          <button key={result} type="button" className="big fails" onClick={() => enter({ what: 'start failed', startId, result }, `Entered ${named}: ${result}`)}>
            <span aria-hidden="true">× </span>
            {result}
          </button>
        ))}
      </div>
    </section>
  )
}

const HOW: Readonly<Record<SheetStart['how'], string>> = { cold: 'cold: power off, wait, on', warm: 'warm: restart', restored: 'restored', live: 'live: no power-on between' }

const FAILED = ['no start', 'fallback start', 'system fails to load'] as const
