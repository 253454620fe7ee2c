// A labelled control with its hint and what is wrong with it, tied together for those who hear the page.
import { useId, type ReactNode } from 'react'

export interface ControlProps {
  readonly id: string
  readonly 'aria-describedby'?: string
  readonly 'aria-invalid'?: true
}

export function Field(props: {
  readonly label: ReactNode
  readonly hint?: ReactNode
  /** A sentence: what is wrong and how to mend it. */
  readonly problem?: string | undefined
  /** Gets what the control must carry. */
  readonly children: (control: ControlProps) => ReactNode
}): ReactNode {
  const id = useId()
  const described = [...(props.hint === undefined ? [] : [`${id}-hint`]), ...(props.problem === undefined ? [] : [`${id}-problem`])].join(' ')
  return (
    <div className="field">
      <label htmlFor={id}>{props.label}</label>
      {props.children({ id, ...(described === '' ? {} : { 'aria-describedby': described }), ...(props.problem === undefined ? {} : { 'aria-invalid': true }) })}
      {props.hint === undefined ? null : (
        <p className="hint" id={`${id}-hint`}>
          {props.hint}
        </p>
      )}
      {props.problem === undefined ? null : (
        <p className="problem" id={`${id}-problem`} role="alert">
          {props.problem}
        </p>
      )}
    </div>
  )
}

export function TextField(props: { readonly label: ReactNode; readonly hint?: ReactNode; readonly problem?: string | undefined; readonly value: string; readonly onValue: (value: string) => void; readonly list?: string; readonly maxLength?: number; readonly figure?: true }): ReactNode {
  return (
    <Field label={props.label} hint={props.hint} problem={props.problem}>
      {(control) => (
        <input
          {...control}
          className={props.figure === true ? 'short figure' : undefined}
          inputMode={props.figure === true ? 'decimal' : undefined}
          list={props.list}
          maxLength={props.maxLength ?? 200}
          value={props.value}
          onChange={(event) => props.onValue(event.currentTarget.value)}
        />
      )}
    </Field>
  )
}

/** Several names, one on each line: names hold commas. */
export function LinesField(props: { readonly label: ReactNode; readonly hint?: ReactNode; readonly problem?: string | undefined; readonly value: string; readonly onValue: (value: string) => void; readonly maxLength: number }): ReactNode {
  return (
    <Field label={props.label} hint={props.hint} problem={props.problem}>
      {(control) => <textarea {...control} rows={Math.min(MOST_LINES, Math.max(FEWEST_LINES, props.value.split('\n').length))} maxLength={props.maxLength} value={props.value} onChange={(event) => props.onValue(event.currentTarget.value)} />}
    </Field>
  )
}

const FEWEST_LINES = 3
const MOST_LINES = 8

export interface Choice {
  readonly value: string
  readonly text: string
}

export function ChoiceField(props: { readonly label: ReactNode; readonly hint?: ReactNode; readonly problem?: string | undefined; readonly value: string; readonly choices: readonly Choice[]; readonly onValue: (value: string) => void }): ReactNode {
  return (
    <Field label={props.label} hint={props.hint} problem={props.problem}>
      {(control) => (
        <select {...control} value={props.value} onChange={(event) => props.onValue(event.currentTarget.value)}>
          {props.choices.map(({ value, text }) => (
            <option key={value} value={value}>
              {text}
            </option>
          ))}
        </select>
      )}
    </Field>
  )
}
