// Changes what a sample is known by: label, serial, batch, where from, how picked.
import { useState, type ReactNode } from 'react'
import type { SampleWhole } from '@guardband/model/api'
import { originSchema, pickedSchema, type Sample } from '@guardband/model/records/parts'
import { useApply } from '../../hub/apply.ts'
import { useHub } from '../../hub/queries.ts'
import { ChoiceField, Field, TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { figureProblem, typedFigure } from '../../pieces/typed-figure.ts'
import { DateField } from './date-field.tsx'
import { dayMoment, isDay, today } from './moments.ts'
import { ORIGIN_CHOICES, PICKED_CHOICES } from './status-words.ts'

export function SampleDialog({ whole, onClose }: { readonly whole: SampleWhole; readonly onClose: () => void }): ReactNode {
  const { sample, part } = whole
  const apply = useApply()
  const parts = useHub('parts')
  const currency = useHub('lab').data?.lab.currency ?? ''
  const [label, setLabel] = useState(sample.label)
  const [serial, setSerial] = useState(sample.serial ?? '')
  const [batch, setBatch] = useState(sample.batch ?? '')
  const [origin, setOrigin] = useState<string>(sample.origin)
  const [picked, setPicked] = useState<string>(sample.picked)
  const [paid, setPaid] = useState(sample.paid === undefined ? '' : String(sample.paid.amount))
  const [paidOn, setPaidOn] = useState(() => today(sample.paid === undefined ? new Date() : new Date(sample.paid.at)))
  const [note, setNote] = useState(sample.note ?? '')
  const others = (parts.data?.rows ?? []).flatMap((row) => row.samples.filter((other) => other.sample.id !== sample.id).map((other) => ({ part: row.part, sample: other.sample })))
  const twin = others.find((other) => other.part.id === part.id && other.sample.label.toLowerCase() === label.trim().toLowerCase())
  const sameSerial = serial.trim() === '' ? undefined : others.find((other) => other.sample.serial?.toLowerCase() === serial.trim().toLowerCase())
  const labelProblem = label.trim() === '' ? 'A sample needs a label.' : twin === undefined ? undefined : `${part.name} has a sample ${twin.sample.label} already.`
  const serialProblem = sameSerial === undefined ? undefined : `${sameSerial.part.name}, ${sameSerial.sample.label} has this serial.`
  const paidProblem = figureProblem(paid, { name: 'What it cost', least: 0 }) ?? (paid.trim() === '' || isDay(paidOn) ? undefined : 'What it cost needs its day.')
  const send = (): void => {
    if ([labelProblem, serialProblem, paidProblem].some((problem) => problem !== undefined)) return
    const { serial: _serial, batch: _batch, paid: _paid, note: _note, ...rest } = sample
    const amount = typedFigure(paid)
    const kept = sample.paid !== undefined && amount === sample.paid.amount && paidOn === today(new Date(sample.paid.at)) ? sample.paid : undefined
    const after: Sample = {
      ...rest, label: label.trim(), origin: originSchema.parse(origin), picked: pickedSchema.parse(picked),
      ...(serial.trim() === '' ? {} : { serial: serial.trim() }),
      ...(batch.trim() === '' ? {} : { batch: batch.trim() }),
      ...(typeof amount === 'number' ? { paid: kept ?? { amount, at: dayMoment(paidOn) } } : {}),
      ...(note.trim() === '' ? {} : { note: note.trim() }),
    }
    apply.mutate({ what: `Changed ${part.name}, ${sample.label}`, items: [{ before: sample, after }] }, { onSuccess: onClose })
  }
  return (
    <FormDialog title={`Change ${sample.label}`} act="Keep" busy={apply.isPending} error={apply.error} onClose={onClose} onSend={send}>
      <TextField label="Label" value={label} onValue={setLabel} problem={labelProblem} />
      <TextField label="Serial" value={serial} onValue={setSerial} problem={serialProblem} />
      <TextField label="Batch or week code" maxLength={100} value={batch} onValue={setBatch} />
      <ChoiceField label="Where from" value={origin} choices={ORIGIN_CHOICES} onValue={setOrigin} />
      <ChoiceField label="How picked" hint="Answers about the next hundred rest on it." value={picked} choices={PICKED_CHOICES} onValue={setPicked} />
      <TextField label={`What it cost${currency === '' ? '' : `, ${currency}`}`} figure value={paid} onValue={setPaid} problem={paidProblem} />
      {paid.trim() === '' ? null : <DateField label="on" to="day" value={paidOn} onValue={setPaidOn} />}
      <Field label="Note">{(control) => <textarea {...control} rows={2} maxLength={10_000} value={note} onChange={(event) => setNote(event.currentTarget.value)} />}</Field>
    </FormDialog>
  )
}
