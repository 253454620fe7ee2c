// The next run: the clock, its figures, and one tap for each way in which it can end.
import { useEffect, useState, type ReactNode } from 'react'
import type { BenchState } from '@guardband/model/api/phone'
import { inForceOf, repeatsOf, type SheetProgress, type SheetRecords } from '@guardband/model/sheet'
import type { Outcome } from '@guardband/model/records/run'
import type { Sheet } from '@guardband/model/records/sheet'
import { unitText } from '@guardband/model/units'
import { oddValue, placeOf, resultText, tuneName, valueText, workloadName, workloadOf } from './bench-names.ts'
import type { Enter } from './enter.ts'
import { NumberPad, padded } from './number-pad.tsx'
import { clockText, useTimer } from './use-timer.ts'

interface NextRunProps {
  readonly state: BenchState
  readonly sheet: Sheet
  readonly records: SheetRecords
  readonly next: NonNullable<SheetProgress['next']>
  readonly enter: Enter
}

export function NextRun({ state, sheet, records, next, enter }: NextRunProps): ReactNode {
  const { planned, workloadId, repeat } = next
  const workload = workloadOf(state, workloadId)
  const asked = workload?.measures ?? []
  const timer = useTimer()
  const [texts, setTexts] = useState<readonly string[]>(() => asked.map(() => ''))
  const [at, setAt] = useState(0)
  const [odd, setOdd] = useState<string>()
  const inForce = inForceOf(records.inForce, planned.startId).at(-1)
  const before = repeatsOf(records.runs, planned.startId, workloadId)
  const place = placeOf(sheet, planned)
  const measures = asked.flatMap(({ name }, index) => (texts[index] === '' || texts[index] === undefined ? [] : [{ name, value: Number(texts[index]) }]))
  const lacking = asked.findIndex((_measure, index) => (texts[index] ?? '') === '')

  const put = (outcome: Outcome): void => {
    const values = outcome === 'passed' ? [] : measures
    const what = `Entered ${workloadName(state, workloadId)}, repeat ${repeat} of start ${place}: ${resultText(workload, { outcome, measures: values })}`
    const seconds = timer.read()
    timer.clear()
    enter({ what: 'run', startId: planned.startId, workloadId, outcome, measures: values }, what, seconds)
  }
  const score = (): void => {
    if (lacking !== -1 && at !== lacking && measures.length > 0 && odd === undefined) return setAt(lacking)
    const out = odd === undefined ? asked.flatMap((measure) => oddOf(measure.name, measure.unit)) : []
    if (out.length > 0) return setOdd(out[0])
    put('scored')
  }
  const oddOf = (name: string, unit: string): readonly string[] => {
    const value = measures.find((measure) => measure.name === name)?.value
    const middle = value === undefined ? undefined : oddValue(sheet, records.runs, { workloadId, measure: name, value })
    return value === undefined || middle === undefined ? [] : [`${valueText(value, unit)} is far from the others, which stand about ${valueText(middle, unit)}. Tap once more if it is right.`]
  }
  // Newer browsers return a promise from it, which an effect must not hand on.
  useEffect(() => {
    window.scrollTo(0, 0)
  }, [])
  const waitsForMore = measures.length > 0 && lacking !== -1 && at !== lacking

  return (
    <section className="card run" aria-labelledby="next">
      <p className="over">{`Start ${place} of ${sheet.starts.length} · ${inForce?.tuneId === undefined ? 'what is in force matches no tune' : tuneName(state, inForce.tuneId)}`}</p>
      <h1 id="next">
        {workloadName(state, workloadId)} <small>{`repeat ${repeat} of ${sheet.repeats}`}</small>
      </h1>
      {before.length === 0 ? null : <p className="soft">before: {before.map((run) => resultText(workload, run)).join(' · ')}</p>}
      <div className="values">
        <button type="button" className="value clock" onClick={timer.since === null ? timer.start : timer.stop}>
          {timer.since === null ? 'Start the clock' : 'Stop the clock'}
          {timer.seconds === null ? null : (
            <span>
              <b className="figure">{clockText(timer.seconds)}</b> {timer.since === null ? 'kept with the run' : `since ${clockTime(timer.since)}`}
            </span>
          )}
        </button>
        <div className="measured" role="group" aria-label="What it measured">
        {asked.map((measure, index) => (
          <button key={measure.name} type="button" className="value" aria-pressed={index === at} onClick={() => setAt(index)}>
            <span>{[measure.name, unitText(measure.unit)].filter((part) => part !== '').join(', ')}</span>
            <b className="figure">{texts[index] === '' || texts[index] === undefined ? '–' : texts[index]}</b>
          </button>
        ))}
        </div>
      </div>
      <NumberPad
        onKey={(key) => {
          setOdd(undefined)
          setTexts(asked.map((_measure, index) => (index === at ? padded(texts[index] ?? '', key) : (texts[index] ?? ''))))
        }}
      />
      {odd === undefined ? null : (
        <p role="alert" className="warns">
          {odd}
        </p>
      )}
      <div className="stack">
        <button type="button" className="big main" disabled={measures.length === 0} onClick={score}>
          {measures.length === 0 ? 'Enter' : waitsForMore ? `${resultText(workload, { outcome: 'scored', measures })} · next: ${asked[lacking]?.name ?? ''}` : `Enter ${resultText(workload, { outcome: 'scored', measures })}`}
        </button>
        <button type="button" className="big" onClick={() => put('passed')}>
          Passed, no figure
        </button>
      </div>
      <h2>Or it went wrong</h2>
      <div className="pair">
        {FAILURES.map((outcome) => (
          <button key={outcome} type="button" className="big fails" onClick={() => put(outcome)}>
            <span aria-hidden="true">{outcome === 'stopped by a person' ? '– ' : '× '}</span>
            {outcome}
          </button>
        ))}
      </div>
    </section>
  )
}

/** Those met most often first. */
const FAILURES = ['machine reset', 'hung', 'program died', 'errors', 'wrong result', 'throttled', 'protection trip', 'device lost', 'stopped by a person'] as const satisfies readonly Outcome[]

function clockTime(at: number): string {
  return new Date(at).toLocaleTimeString('en-GB')
}
