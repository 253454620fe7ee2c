// The few things that one key can't say alone: each opens one small form, answered from the keyboard, and closes.
import { useState, type KeyboardEvent, type ReactNode } from 'react'
import { knownSchema, type Known } from '@guardband/model/records/base'
import { phaseSchema, type Run } from '@guardband/model/records/run'
import { trainingSchema, type Conditions, type Start } from '@guardband/model/records/start'
import type { Tune } from '@guardband/model/records/tune'
import { CONDITION_WORDS } from '@guardband/model/sheet-words'
import { Dialog, DialogButtons } from '../../pieces/dialog.tsx'
import { ChoiceField, TextField } from '../../pieces/field.tsx'
import { figureProblem, typedFigure } from '../../pieces/typed-figure.ts'

interface DialogProps {
  /** A sentence when it could not be kept; the dialog then stays. */
  readonly problem: string | null
  readonly onClose: () => void
}

export function StartFailedDialog({ problem, onClose, onResult }: DialogProps & { readonly onResult: (result: Exclude<Start['result'], 'started'>) => void }): ReactNode {
  const onKey = (event: KeyboardEvent): void => {
    const chosen = START_RESULTS.find(({ key }) => key === event.key.toLowerCase())
    if (chosen === undefined || event.ctrlKey || event.altKey || event.metaKey) return
    event.preventDefault()
    onResult(chosen.result)
  }
  return (
    <Dialog title="How did the start fail?" onClose={onClose}>
      {/* The keys reach the buttons by way of what holds them. */}
      <div className="start-results" role="presentation" onKeyDown={onKey}>
        {START_RESULTS.map(({ key, result, text }) => (
          <button key={key} type="button" className="button" onClick={() => onResult(result)}>
            <kbd>{key}</kbd> {result}
            <small>{text}</small>
          </button>
        ))}
      </div>
      {problem === null ? null : <p className="problem">{problem}</p>}
    </Dialog>
  )
}

const START_RESULTS = [
  { key: 'n', result: 'no start', text: 'no picture, no beep, nothing' },
  { key: 'b', result: 'fallback start', text: 'it came up, but not with what was asked' },
  { key: 'l', result: 'system fails to load', text: 'the board is up, the system is not' },
] as const

export function InForceDialog({ tunes, now, problem, onClose, onTune }: DialogProps & { readonly tunes: readonly Tune[]; readonly now: string | undefined; readonly onTune: (tuneId: string | undefined, known: Known) => void }): ReactNode {
  const [tune, setTune] = useState(tunes.find(({ id }) => id !== now)?.id ?? '')
  const [known, setKnown] = useState<Known>('seen by a person')
  return (
    <KeyForm title="What is in force from here on?" act="From here on" problem={problem} onClose={onClose} onSend={() => onTune(tune === '' ? undefined : tune, known)}>
      <ChoiceField label="Tune" value={tune} choices={[...tunes.map(({ id, name }) => ({ value: id, text: name })), { value: '', text: 'none of them' }]} onValue={setTune} hint="Runs entered before stay with what held then." />
      <ChoiceField label="How it is known" value={known} choices={knownSchema.options.map((value) => ({ value, text: value }))} onValue={(value) => setKnown(knownSchema.parse(value))} />
    </KeyForm>
  )
}

export function ConditionsDialog({ conditions, begins, problem, onClose, onConditions }: DialogProps & { readonly conditions: Conditions; readonly begins: boolean; readonly onConditions: (conditions: Conditions) => void }): ReactNode {
  const [texts, setTexts] = useState<Readonly<Record<string, string>>>(() => Object.fromEntries(Object.entries(conditions).map(([key, value]) => [key, String(value)])))
  const wrong = FIGURES.flatMap((key) => figureProblem(texts[key] ?? '', { name: CONDITION_WORDS[key] }) ?? [])[0]
  return (
    <KeyForm
      title="Conditions from this start on"
      act={begins ? 'Begin the start with these' : 'Keep'}
      problem={wrong ?? problem}
      onClose={onClose}
      onSend={() => {
        if (wrong === undefined) onConditions(conditionsOf(texts))
      }}
    >
      <div className="condition-fields">
        {CONDITION_KEYS.map((key) => (
          <TextField key={key} label={`${CONDITION_WORDS[key]}${key === 'humidity' ? ', %' : FIGURES.includes(key) ? ', °C' : ''}`} value={texts[key] ?? ''} onValue={(text) => setTexts({ ...texts, [key]: text })} />
        ))}
      </div>
    </KeyForm>
  )
}

// The words name every condition.
const CONDITION_KEYS = Object.keys(CONDITION_WORDS) as (keyof Conditions)[]
const FIGURES: readonly (keyof Conditions)[] = ['ambient', 'coolant', 'humidity']

function conditionsOf(texts: Readonly<Record<string, string>>): Conditions {
  const given = CONDITION_KEYS.flatMap((key) => {
    const text = (texts[key] ?? '').trim()
    return text === '' ? [] : [[key, FIGURES.includes(key) ? typedFigure(text) : text] as const]
  })
  return Object.fromEntries(given)
}

export function TrainingDialog({ training, problem, onClose, onTraining }: DialogProps & { readonly training: Start['training']; readonly onTraining: (training: NonNullable<Start['training']>) => void }): ReactNode {
  const [result, setResult] = useState<string>(training?.result ?? 'full')
  const [tries, setTries] = useState(String(training?.tries ?? ''))
  const [seconds, setSeconds] = useState(String(training?.seconds ?? ''))
  const [postCode, setPostCode] = useState(training?.postCode ?? '')
  const read = trainingSchema.safeParse({
    result,
    ...(tries.trim() === '' ? {} : { tries: typedFigure(tries) }),
    ...(seconds.trim() === '' ? {} : { seconds: typedFigure(seconds) }),
    ...(postCode.trim() === '' ? {} : { postCode: postCode.trim() }),
  })
  const wrong = read.success ? null : 'Tries must be a whole number and seconds a figure, both from 0 on.'
  return (
    <KeyForm
      title="Memory training of this start"
      act="Keep"
      problem={wrong ?? problem}
      onClose={onClose}
      onSend={() => {
        if (read.success) onTraining(read.data)
      }}
    >
      <ChoiceField label="Result" value={result} choices={trainingSchema.shape.result.options.map((value) => ({ value, text: value }))} onValue={setResult} hint="A fallback is never booked under the tune." />
      <TextField label="Tries" figure value={tries} onValue={setTries} />
      <TextField label="Seconds" figure value={seconds} onValue={setSeconds} />
      <TextField label="POST code" value={postCode} onValue={setPostCode} maxLength={20} />
    </KeyForm>
  )
}

export function NoteDialog({ about, note, problem, onClose, onNote }: DialogProps & { readonly about: string; readonly note: string; readonly onNote: (note: string) => void }): ReactNode {
  const [text, setText] = useState(note)
  return (
    <KeyForm title="Note" act="Keep" problem={problem} onClose={onClose} onSend={() => onNote(text.trim())}>
      <TextField label={about} value={text} maxLength={2000} onValue={setText} />
    </KeyForm>
  )
}

export function WhereDialog({ run, problem, onClose, onWhere }: DialogProps & { readonly run: Run; readonly onWhere: (where: Pick<Run, 'phase' | 'place'>) => void }): ReactNode {
  const [phase, setPhase] = useState<string>(run.phase ?? '')
  const [place, setPlace] = useState(run.place ?? '')
  return (
    <KeyForm
      title={`Where it failed: ${run.outcome}`}
      act="Keep"
      problem={problem}
      onClose={onClose}
      onSend={() => {
        const read = phaseSchema.safeParse(phase)
        onWhere({ ...(read.success ? { phase: read.data } : {}), ...(place.trim() === '' ? {} : { place: place.trim() }) })
      }}
    >
      <ChoiceField label="Phase" value={phase} choices={[{ value: '', text: 'not known' }, ...phaseSchema.options.map((value) => ({ value, text: value }))]} onValue={setPhase} />
      <TextField label="Place" hint="A core, a channel, an address." value={place} maxLength={500} onValue={setPlace} />
    </KeyForm>
  )
}

/** Enter keeps, wherever in the form it is pressed. */
export function KeyForm(props: { readonly title: string; readonly act: string; readonly problem: string | null; readonly onClose: () => void; readonly onSend: () => void; readonly children: ReactNode }): ReactNode {
  return (
    <Dialog title={props.title} onClose={props.onClose}>
      <form
        noValidate
        onSubmit={(event) => {
          event.preventDefault()
          props.onSend()
        }}
      >
        {/* A choice swallows Enter, and a text that is gone to is mostly typed anew. */}
        <div
          className="key-form"
          role="presentation"
          onKeyDown={(event) => {
            if (event.key !== 'Enter' || !(event.target instanceof HTMLSelectElement)) return
            event.preventDefault()
            event.target.form?.requestSubmit()
          }}
          onFocus={(event) => {
            if (event.target instanceof HTMLInputElement) event.target.select()
          }}
        >
          {props.children}
        </div>
        {props.problem === null ? null : (
          <p className="problem" role="alert">
            {props.problem}
          </p>
        )}
        <DialogButtons act={props.act} busy={false} onClose={props.onClose} />
      </form>
    </Dialog>
  )
}
