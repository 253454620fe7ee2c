// Lab: what it is called, where it lies, and the way to everything that is set once for all answers.
import { useState, type ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { LabInfo } from '@guardband/model/api'
import { useApply } from '../../hub/apply.ts'
import { useHub } from '../../hub/queries.ts'
import { TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { NewLabButton } from '../../pieces/new-lab.tsx'
import { MarginNote } from '../../shell/page.tsx'
import { Loaded } from '../../shell/states.tsx'
import { LabFrame } from './lab-frame.tsx'
import { LAB_PAGES } from './lab-pages.ts'

export function LabPage(): ReactNode {
  const lab = useHub('lab')
  return (
    <LabFrame
      name="This lab"
      headline={lab.data?.lab.name ?? 'Lab'}
      margin={
        <MarginNote title="Another workspace">
          <p>Each lab is a folder of its own.</p>
          <NewLabButton />
        </MarginNote>
      }
    >
      <Loaded query={lab} what="the lab">{(info) => <Facts info={info} />}</Loaded>
      <section>
        <h2>Set once, for all answers</h2>
        <dl className="facts index">
          {LAB_PAGES.filter((page) => page.to !== '/lab').map((page) => (
            <div key={page.to}>
              <dt>
                <Link to={page.to}>{page.text}</Link>
              </dt>
              <dd>{page.says}</dd>
            </div>
          ))}
        </dl>
      </section>
    </LabFrame>
  )
}

function Facts({ info }: { readonly info: LabInfo }): ReactNode {
  const [editing, setEditing] = useState(false)
  return (
    <section>
      <dl className="facts">
        <div>
          <dt>folder</dt>
          <dd className="figure breaks">{info.folder}</dd>
        </div>
        <div>
          <dt>currency</dt>
          <dd>{info.lab.currency === '' ? 'none: amounts stand without one' : info.lab.currency}</dd>
        </div>
        <div>
          <dt>data</dt>
          <dd>{info.lab.simulated ? 'from the simulated bench' : 'recorded on real machines'}</dd>
        </div>
      </dl>
      <div className="buttons">
        <button type="button" className="button" onClick={() => setEditing(true)}>
          Change name or currency
        </button>
      </div>
      {editing ? <LabDialog info={info} onClose={() => setEditing(false)} /> : null}
    </section>
  )
}

function LabDialog({ info: { lab }, onClose }: { readonly info: LabInfo; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const [name, setName] = useState(lab.name)
  const [currency, setCurrency] = useState(lab.currency)
  return (
    <FormDialog
      title="Name and currency"
      act="Keep"
      busy={apply.isPending}
      error={apply.error}
      problem={name.trim() === '' ? 'A lab needs a name.' : undefined}
      onClose={onClose}
      onSend={() => {
        const after = { ...lab, name: name.trim(), currency: currency.trim() }
        if (after.name === lab.name && after.currency === lab.currency) onClose()
        else apply.mutate({ what: `Lab: ${after.name}, currency ${after.currency === '' ? 'none' : after.currency}`, items: [{ before: lab, after }] }, { onSuccess: onClose })
      }}
    >
      <TextField label="Name of the lab" value={name} onValue={setName} />
      <TextField label="Currency, as you write it" hint="Amounts keep their figures; only the sign beside them changes." value={currency} onValue={setCurrency} maxLength={10} />
    </FormDialog>
  )
}
