// Adds a part, or changes what one is called.
import { useState, type ReactNode } from 'react'
import { slotSchema, type Part } from '@guardband/model/records/parts'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { ChoiceField, Field, TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { figureProblem, typedFigure } from '../../pieces/typed-figure.ts'
import { dayMoment, today } from './moments.ts'
import { SLOT_CHOICES } from './status-words.ts'

export function PartDialog({ part, onClose, onDone }: { readonly part?: Part; readonly onClose: () => void; readonly onDone: (part: Part, change: number) => void }): ReactNode {
  const apply = useApply()
  const parts = useHub('parts')
  const [name, setName] = useState(part?.name ?? '')
  const [slot, setSlot] = useState<string>(part?.slot ?? 'processor')
  const [note, setNote] = useState(part?.note ?? '')
  const [price, setPrice] = useState('')
  const [tried, setTried] = useState(false)
  const currency = useHub('lab').data?.lab.currency ?? ''
  const twin = parts.data?.rows.find((row) => row.part.id !== part?.id && row.part.name.toLowerCase() === name.trim().toLowerCase())
  const nameProblem = name.trim() === '' ? 'A part needs a name.' : twin === undefined ? undefined : `${twin.part.name} is here already; samples of it are entered there.`
  const priceProblem = figureProblem(price, { name: 'The price', least: 0 })
  const send = (): void => {
    setTried(true)
    if (nameProblem !== undefined || priceProblem !== undefined) return
    const amount = typedFigure(price)
    const { note: _before, ...rest } = part ?? { kind: 'part' as const, id: newId(), prices: [] }
    const after: Part = {
      ...rest, name: name.trim(), slot: slotSchema.parse(slot),
      ...(note.trim() === '' ? {} : { note: note.trim() }),
      ...(typeof amount === 'number' ? { prices: [...rest.prices, { amount, at: dayMoment(today(new Date())) }] } : {}),
    }
    apply.mutate({ what: part === undefined ? `Added the part ${after.name}` : `Changed the part ${after.name}`, items: [{ before: part ?? null, after }] }, { onSuccess: (change) => onDone(after, change) })
  }
  return (
    <FormDialog title={part === undefined ? 'Add a part' : `Change ${part.name}`} act={part === undefined ? 'Add it' : 'Keep'} busy={apply.isPending} error={apply.error} onClose={onClose} onSend={send}>
      <TextField label="Name" value={name} onValue={setName} problem={tried || twin !== undefined ? nameProblem : undefined} />
      <ChoiceField label="Slot" hint="The place that its samples take in a rig." value={slot} choices={SLOT_CHOICES} onValue={setSlot} />
      {part === undefined ? <TextField label={`Price today${currency === '' ? '' : `, ${currency}`}`} figure value={price} onValue={setPrice} problem={priceProblem} hint="May be added later; each price keeps its date." /> : null}
      <Field label="Note">{(control) => <textarea {...control} rows={2} maxLength={10_000} value={note} onChange={(event) => setNote(event.currentTarget.value)} />}</Field>
    </FormDialog>
  )
}
