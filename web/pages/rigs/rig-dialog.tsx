// Adds a rig, or gives one another name.
import { useState, type ReactNode } from 'react'
import type { RigRow } from '@guardband/model/api'
import type { Rig } from '@guardband/model/records/parts'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { Field, TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'

export function RigDialog({ rig, rows, onClose }: { readonly rig?: Rig; readonly rows: readonly RigRow[]; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const [name, setName] = useState(rig?.name ?? '')
  const [note, setNote] = useState(rig?.note ?? '')
  const [tried, setTried] = useState(false)
  const twin = rows.find((row) => row.rig.id !== rig?.id && row.rig.name.toLowerCase() === name.trim().toLowerCase())
  const problem = twin === undefined ? (name.trim() === '' ? 'A rig needs a name.' : undefined) : `${twin.rig.name} is here already.`
  const send = (): void => {
    setTried(true)
    if (problem !== undefined) return
    const { note: _note, ...rest } = rig ?? { kind: 'rig' as const, id: newId() }
    const after: Rig = { ...rest, name: name.trim(), ...(note.trim() === '' ? {} : { note: note.trim() }) }
    apply.mutate({ what: rig === undefined ? `Added the rig ${after.name}` : rig.name === after.name ? `Changed the rig ${rig.name}` : `Renamed the rig ${rig.name} to ${after.name}`, items: [{ before: rig ?? null, after }] }, { onSuccess: onClose })
  }
  return (
    <FormDialog title={rig === undefined ? 'Add a rig' : `Change ${rig.name}`} act={rig === undefined ? 'Add it' : 'Keep'} busy={apply.isPending} error={apply.error} onClose={onClose} onSend={send}>
      <TextField
        label="Name"
        hint={rig === undefined ? 'As its plan names it, if it runs one: journals find it by this name.' : 'Journals find a rig by its name: rename it in its plan too.'}
        value={name}
        onValue={setName}
        problem={tried || twin !== undefined ? problem : undefined}
      />
      <Field label="Note">{(control) => <textarea {...control} rows={2} maxLength={10_000} value={note} onChange={(event) => setNote(event.currentTarget.value)} />}</Field>
    </FormDialog>
  )
}
