// Corrects what was mistyped in a run: a change with its reason, before and after in the log.
import { useState, type ReactNode } from 'react'
import type { RunWhole } from '@guardband/model/api/runs'
import { LONGEST_WHAT } from '@guardband/model/change-limits'
import { outcomeSchema, phaseSchema, type Run } from '@guardband/model/records/run'
import { unitText } from '@guardband/model/units'
import { useApply } from '../hub/apply.ts'
import { readingText } from '../pieces/amounts.ts'
import { ChoiceField, TextField } from '../pieces/field.tsx'
import { FormDialog } from '../pieces/form-dialog.tsx'
import { figureProblem, typedFigure, untypedFigure } from '../pieces/typed-figure.ts'

export function CorrectRun({ whole: { run, row, workload }, onClose }: { readonly whole: RunWhole; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const [values, setValues] = useState<Readonly<Record<string, string>>>(() => Object.fromEntries(workload.measures.map(({ name }) => [name, untypedFigure(run.measures.find((measure) => measure.name === name)?.value)])))
  const [outcome, setOutcome] = useState(run.outcome)
  const [phase, setPhase] = useState<string>(run.phase ?? '')
  const [place, setPlace] = useState(run.place ?? '')
  const [seconds, setSeconds] = useState(untypedFigure(run.exposure?.seconds))
  const [note, setNote] = useState(run.note ?? '')
  const [why, setWhy] = useState('')
  const after = corrected(run, { values, outcome, phase, place, seconds, note })
  const changes = differences(run, after, workload)
  const problem =
    workload.measures.map(({ name }) => figureProblem(values[name] ?? '', { name })).find((sentence) => sentence !== undefined) ??
    figureProblem(seconds, { name: 'Seconds', least: 0 }) ??
    (outcome === 'scored' && after.measures.length === 0 ? 'A scored run has a figure; give it one, or another outcome.' : undefined) ??
    (changes.length === 0 ? 'Nothing has been changed yet.' : undefined) ??
    (why.trim() === '' ? 'Say why: it stands in the log beside what was there before.' : undefined)
  return (
    <FormDialog
      title="Correct this run"
      explain={`${row.workload}, ${row.sample}, ${row.startLabel}. What stood there before stays in its history. A result that is merely surprising is not corrected.`}
      act="Correct it"
      busy={apply.isPending}
      error={apply.error}
      problem={problem}
      onClose={onClose}
      onSend={() => apply.mutate({ what: `Corrected ${row.workload} on ${row.sample}: ${changes.join('; ')}`.slice(0, LONGEST_WHAT), why: why.trim(), items: [{ before: run, after }] }, { onSuccess: onClose })}
    >
      <div className="sides">
        {workload.measures.map(({ name, unit }) => (
          <TextField key={name} label={unitText(unit) === '' ? name : `${name}, ${unitText(unit)}`} value={values[name] ?? ''} onValue={(value) => setValues({ ...values, [name]: value })} figure />
        ))}
        <TextField label="Seconds it ran" value={seconds} onValue={setSeconds} figure />
        <ChoiceField label="Outcome" value={outcome} choices={outcomeSchema.options.map((text) => ({ value: text, text }))} onValue={(value) => setOutcome(outcomeSchema.options.find((option) => option === value) ?? outcome)} />
        <ChoiceField label="Phase" value={phase} choices={[{ value: '', text: 'not said' }, ...phaseSchema.options.map((text) => ({ value: text, text }))]} onValue={setPhase} />
        <TextField label="Place that failed" hint="A core, a channel, an address." value={place} onValue={setPlace} maxLength={500} />
        <TextField label="Note" value={note} onValue={setNote} maxLength={10_000} />
      </div>
      <TextField label="Why" value={why} onValue={setWhy} maxLength={2000} />
    </FormDialog>
  )
}

interface Typed {
  readonly values: Readonly<Record<string, string>>
  readonly outcome: Run['outcome']
  readonly phase: string
  readonly place: string
  readonly seconds: string
  readonly note: string
}

function corrected(run: Run, typed: Typed): Run {
  const { phase: _phase, place: _place, note: _note, exposure, ...rest } = run
  const measures = Object.entries(typed.values).flatMap(([name, text]) => {
    const value = typedFigure(text)
    return value == null ? [] : [{ name, value }]
  })
  const phase = phaseSchema.options.find((option) => option === typed.phase)
  const seconds = typedFigure(typed.seconds)
  const { seconds: _seconds, ...exposed } = exposure ?? {}
  const nextExposure = { ...exposed, ...(seconds == null ? {} : { seconds }) }
  return {
    ...rest,
    measures: inOldOrder(run, measures),
    outcome: typed.outcome,
    ...(phase === undefined ? {} : { phase }),
    ...(typed.place.trim() === '' ? {} : { place: typed.place.trim() }),
    ...(typed.note.trim() === '' ? {} : { note: typed.note.trim() }),
    ...(Object.keys(nextExposure).length === 0 ? {} : { exposure: nextExposure }),
  }
}

/** A value that stayed stays where it was; the order alone is no change. */
function inOldOrder(run: Run, measures: Run['measures']): Run['measures'] {
  const place = (name: string): number => {
    const at = run.measures.findIndex((measure) => measure.name === name)
    return at < 0 ? run.measures.length : at
  }
  return measures.toSorted((a, b) => place(a.name) - place(b.name))
}

function differences(before: Run, after: Run, workload: RunWhole['workload']): readonly string[] {
  const lines = workload.measures.flatMap(({ name, unit }) => pair(name, reading(before, name, unit), reading(after, name, unit)))
  return [
    ...lines,
    ...pair('outcome', before.outcome, after.outcome),
    ...pair('phase', before.phase ?? 'not said', after.phase ?? 'not said'),
    ...pair('place', before.place ?? 'not said', after.place ?? 'not said'),
    ...pair('seconds', String(before.exposure?.seconds ?? 'not said'), String(after.exposure?.seconds ?? 'not said')),
    ...(before.note === after.note ? [] : ['note']),
  ]
}

function reading(run: Run, name: string, unit: string): string {
  const value = run.measures.find((measure) => measure.name === name)?.value
  return value === undefined ? 'nothing' : readingText(value, unit)
}

function pair(name: string, from: string, to: string): readonly string[] {
  return from === to ? [] : [`${name} ${from} to ${to}`]
}
