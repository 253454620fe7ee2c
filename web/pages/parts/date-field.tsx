// A day, or a moment to the minute, in the browser's own control.
import type { ReactNode } from 'react'
import { Field } from '../../pieces/field.tsx'

export function DateField(props: { readonly label: string; readonly hint?: ReactNode; readonly problem?: string | undefined; readonly to: 'day' | 'minute'; readonly value: string; readonly onValue: (value: string) => void }): ReactNode {
  return (
    <Field label={props.label} hint={props.hint} problem={props.problem}>
      {(control) => <input {...control} className="moment" type={props.to === 'day' ? 'date' : 'datetime-local'} value={props.value} onChange={(event) => props.onValue(event.currentTarget.value)} />}
    </Field>
  )
}
