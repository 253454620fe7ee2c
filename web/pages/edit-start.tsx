// Corrects a start afterwards: its conditions, its memory training, how it came up. A change with its reason.
import { useState, type ReactNode } from 'react'
import type { StartWhole } from '@guardband/model/api/runs'
import { LONGEST_WHAT } from '@guardband/model/change-limits'
import { startHowSchema, trainingSchema, type Conditions, type Start } from '@guardband/model/records/start'
import { useApply } from '../hub/apply.ts'
import { ChoiceField, TextField } from '../pieces/field.tsx'
import { FormDialog } from '../pieces/form-dialog.tsx'
import { figureProblem, typedFigure, untypedFigure } from '../pieces/typed-figure.ts'
import { CONDITION_FIELDS, conditionText, trainingText } from './start-facts.tsx'

export function EditStart({ whole: { start, label }, onClose }: { readonly whole: StartWhole; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const [fields, setFields] = useState<Readonly<Record<string, string>>>(() => Object.fromEntries(CONDITION_FIELDS.map(({ key }) => [key, String(start.conditions[key] ?? '')])))
  const [training, setTraining] = useState<TypedTraining>({ result: start.training?.result ?? '', tries: untypedFigure(start.training?.tries), seconds: untypedFigure(start.training?.seconds), postCode: start.training?.postCode ?? '' })
  const [how, setHow] = useState(start.how)
  const [note, setNote] = useState(start.note ?? '')
  const [why, setWhy] = useState('')
  const after = corrected(start, fields, training, how, note)
  const changes = differences(start, after)
  const problem =
    CONDITION_FIELDS.filter(({ unit }) => unit !== undefined).map(({ key, label: name }) => figureProblem(fields[key] ?? '', { name })).find((sentence) => sentence !== undefined) ??
    figureProblem(training.tries, { name: 'Tries', least: 0 }) ??
    figureProblem(training.seconds, { name: 'Training seconds', least: 0 }) ??
    (training.result === '' && (training.tries !== '' || training.seconds !== '' || training.postCode !== '') ? 'Say how the memory training ended, or that it is not known.' : undefined) ??
    (changes.length === 0 ? 'Nothing has been changed yet.' : undefined) ??
    (why.trim() === '' ? 'Say why: it stands in the log beside what was there before.' : undefined)
  return (
    <FormDialog
      title="Correct this start"
      explain={`${label}. All of its runs stand under these conditions; answers that hold them are worked out anew.`}
      act="Correct it"
      busy={apply.isPending}
      error={apply.error}
      problem={problem}
      onClose={onClose}
      onSend={() => apply.mutate({ what: `Corrected ${label}: ${changes.join('; ')}`.slice(0, LONGEST_WHAT), why: why.trim(), items: [{ before: start, after }] }, { onSuccess: onClose })}
    >
      <div className="sides">
        {CONDITION_FIELDS.map(({ key, label: name, unit }) => (
          <TextField key={key} label={unit === undefined ? capital(name) : `${capital(name)}, ${unit}`} value={fields[key] ?? ''} onValue={(value) => setFields({ ...fields, [key]: value })} maxLength={key === 'drivers' || key === 'memory' ? 500 : 200} {...(unit === undefined ? {} : { figure: true as const })} />
        ))}
        <ChoiceField label="How it came up" value={how} choices={startHowSchema.options.map((text) => ({ value: text, text }))} onValue={(value) => setHow(startHowSchema.options.find((option) => option === value) ?? how)} />
        <ChoiceField label="Memory training" value={training.result} choices={[{ value: '', text: 'not recorded' }, ...trainingSchema.shape.result.options.map((text) => ({ value: text, text }))]} onValue={(result) => setTraining({ ...training, result: trainingSchema.shape.result.options.find((option) => option === result) ?? '' })} />
        <TextField label="Training tries" value={training.tries} onValue={(tries) => setTraining({ ...training, tries })} figure />
        <TextField label="Training, s" value={training.seconds} onValue={(seconds) => setTraining({ ...training, seconds })} figure />
        <TextField label="POST code" value={training.postCode} onValue={(postCode) => setTraining({ ...training, postCode })} maxLength={20} />
        <TextField label="Note" value={note} onValue={setNote} maxLength={10_000} />
      </div>
      <TextField label="Why" value={why} onValue={setWhy} maxLength={2000} />
    </FormDialog>
  )
}

function capital(text: string): string {
  return `${text[0]?.toUpperCase() ?? ''}${text.slice(1)}`
}

interface TypedTraining {
  readonly result: NonNullable<Start['training']>['result'] | ''
  readonly tries: string
  readonly seconds: string
  readonly postCode: string
}

function corrected(start: Start, fields: Readonly<Record<string, string>>, typed: TypedTraining, how: Start['how'], note: string): Start {
  const { training: _training, note: _note, ...rest } = start
  const conditions: Conditions = Object.fromEntries(
    CONDITION_FIELDS.flatMap(({ key, unit }) => {
      const text = (fields[key] ?? '').trim()
      if (text === '') return []
      return [[key, unit === undefined ? text : (typedFigure(text) ?? undefined)]]
    }),
  )
  const tries = typedFigure(typed.tries)
  const seconds = typedFigure(typed.seconds)
  const training = typed.result === '' ? undefined : { result: typed.result, ...(tries == null ? {} : { tries }), ...(seconds == null ? {} : { seconds }), ...(typed.postCode.trim() === '' ? {} : { postCode: typed.postCode.trim() }) }
  return { ...rest, how, conditions, ...(training === undefined ? {} : { training }), ...(note.trim() === '' ? {} : { note: note.trim() }) }
}

function differences(before: Start, after: Start): readonly string[] {
  const lines = CONDITION_FIELDS.flatMap(({ key, label, unit }) => pair(label, conditionText(before.conditions[key], unit), conditionText(after.conditions[key], unit)))
  return [...lines, ...pair('memory training', trainingText(before) || 'not recorded', trainingText(after) || 'not recorded'), ...pair('how', before.how, after.how), ...(before.note === after.note ? [] : ['note'])]
}

function pair(name: string, from: string, to: string): readonly string[] {
  return from === to ? [] : [`${name} ${from} to ${to}`]
}
