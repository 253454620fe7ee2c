// What a sample may be used for, and the acts that change it: quarantine with its reason, wet until inspected, for sale, back to the bench.
import { useState, type ReactNode } from 'react'
import type { SampleWhole } from '@guardband/model/api'
import type { Sample } from '@guardband/model/records/parts'
import { useApply } from '../../hub/apply.ts'
import { useHub } from '../../hub/queries.ts'
import { ReasonDialog } from '../../pieces/dialog.tsx'
import { Field } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { Day, When } from '../../pieces/when.tsx'
import { Failed } from '../../shell/states.tsx'
import type { DoneAct } from './done.tsx'

type Act = 'quarantine' | 'lift' | 'wet' | 'inspect' | 'bench again' | 'for sale' | 'bench'

export function StatusSection({ whole, onDone }: { readonly whole: SampleWhole; readonly onDone: (act: DoneAct) => void }): ReactNode {
  const { sample } = whole
  const [open, setOpen] = useState<Act | null>(null)
  const apply = useApply()
  const who = useHub('who').data?.who
  const name = `${whole.part.name}, ${sample.label}`
  const change = (what: string, after: Sample, why?: string): void =>
    apply.mutate(
      { what: `${what}: ${name}`, ...(why === undefined || why === '' ? {} : { why }), items: [{ before: sample, after }] },
      {
        onSuccess: (made) => {
          setOpen(null)
          onDone({ change: made, sentence: `${what}: ${name}.` })
        },
      },
    )
  const acts = actsOf(sample)
  const begin = (act: Act): void => {
    apply.reset()
    if (act === 'for sale') change('Put up for sale', { ...sample, status: 'for sale' })
    else if (act === 'bench') change('Back to the bench', { ...sample, status: 'bench' })
    else setOpen(act)
  }
  const shared = { busy: apply.isPending || who === undefined, problem: apply.isError ? <Failed error={apply.error} /> : null, onClose: () => setOpen(null) }
  return (
    <section className={sample.status === 'wet' || sample.status === 'quarantined' ? 'sheet status-locked' : 'sheet'}>
      <h2>{HEADINGS[sample.status]}</h2>
      <StatusSentences sample={sample} />
      <div className="buttons">
        {acts.map(({ act, text }, place) => (
          <button key={act} type="button" className={place === 0 && sample.status === 'wet' ? 'button button-main' : 'button'} disabled={apply.isPending} onClick={() => begin(act)}>
            {text}
          </button>
        ))}
      </div>
      {apply.isError && open === null ? <Failed error={apply.error} /> : null}
      {open === 'quarantine' ? (
        <ReasonDialog
          {...shared}
          title={`Quarantine ${sample.label}`}
          explain="It can still be tested. It is not sold until the quarantine is lifted with a reason."
          label="Why it may not be sold"
          act="Quarantine it"
          onReason={(reason) => (reason === '' || who === undefined ? undefined : change('Quarantined', { ...sample, status: 'quarantined', quarantine: { reason, by: who, at: now() } }, reason))}
        />
      ) : null}
      {open === 'lift' ? (
        <ReasonDialog
          {...shared}
          title={`Lift the quarantine of ${sample.label}`}
          explain={`It was quarantined: ${sample.quarantine?.reason ?? 'nobody said why'}`}
          label="Why it may be sold after all"
          act="Lift it"
          onReason={(reason) => {
            const { quarantine: _quarantine, ...rest } = sample
            if (reason !== '') change('Quarantine lifted', { ...rest, status: 'bench' }, reason)
          }}
        />
      ) : null}
      {open === 'bench again' ? (
        <ReasonDialog
          {...shared}
          title={`${sample.label} back to the bench`}
          explain="For tests only: why it was quarantined stays with it, and it is not sold."
          label="What it is to be tested for"
          act="Back to the bench"
          onReason={(reason) => (reason === '' ? undefined : change('Back to the bench, not for sale', { ...sample, status: 'bench' }, reason))}
        />
      ) : null}
      {open === 'wet' ? (
        <ReasonDialog
          {...shared}
          title={`${sample.label} got wet`}
          explain="Take its power off first. It is locked from now on: nothing is started with it until somebody looked at it and found it dry."
          label="What happened"
          act="Lock it as wet"
          onReason={(reason) => (reason === '' ? undefined : change('Wet, locked', { ...sample, status: 'wet' }, reason))}
        />
      ) : null}
      {open === 'inspect' ? (
        <Inspection
          sample={sample}
          busy={shared.busy}
          error={apply.error}
          onClose={shared.onClose}
          onFound={(found, dry) => {
            if (who === undefined) return
            const inspected = { ...sample, inspections: [...(sample.inspections ?? []), { at: now(), by: who, dry, found }] }
            // Out of the wet a quarantined sample goes back into its quarantine, never past it.
            const status = !dry ? 'wet' : sample.quarantine === undefined ? 'bench' : 'quarantined'
            change(dry ? 'Inspected and found dry' : 'Inspected, still wet', { ...inspected, status }, found)
          }}
        />
      ) : null}
    </section>
  )
}

function now(): string {
  return new Date().toISOString()
}

const HEADINGS: Readonly<Record<Sample['status'], string>> = { bench: 'For the bench', 'for sale': 'For sale', quarantined: 'In quarantine', wet: 'Wet: locked' }

function actsOf(sample: Sample): readonly { readonly act: Act; readonly text: string }[] {
  const wet = { act: 'wet', text: 'It got wet' } as const
  if (sample.status === 'wet') return [{ act: 'inspect', text: 'Enter an inspection' }]
  if (sample.status === 'quarantined') return [{ act: 'lift', text: 'Lift the quarantine' }, { act: 'bench again', text: 'Back to the bench for tests' }, wet]
  if (sample.quarantine !== undefined) return [{ act: 'lift', text: 'Lift the quarantine' }, { act: 'quarantine', text: 'Quarantine it again' }, wet]
  if (sample.status === 'for sale') return [{ act: 'bench', text: 'Back to the bench' }, { act: 'quarantine', text: 'Quarantine it' }, wet]
  return [{ act: 'for sale', text: 'Put it up for sale' }, { act: 'quarantine', text: 'Quarantine it' }, wet]
}

function StatusSentences({ sample }: { readonly sample: Sample }): ReactNode {
  const { quarantine, inspections } = sample
  return (
    <>
      {sample.status === 'wet' ? <p>Nothing is started with it until an inspection finds it dry.</p> : null}
      {quarantine === undefined ? null : (
        <p>
          Not for sale{sample.status === 'quarantined' ? '' : ', though it is tested'}. Quarantined by {quarantine.by} on <Day at={quarantine.at} />: {quarantine.reason}
        </p>
      )}
      {sample.status === 'quarantined' && quarantine === undefined ? <p>Nobody said why. It came in as quarantined.</p> : null}
      {sample.status === 'bench' && quarantine === undefined ? <p>It may be tested, and put up for sale.</p> : null}
      {sample.status === 'for sale' ? <p>It waits for a buyer.</p> : null}
      {inspections === undefined || inspections.length === 0 ? null : (
        <ul className="plain inspections">
          {inspections.toReversed().map(({ at, by, dry, found }) => (
            <li key={at}>
              <b>{dry ? 'Found dry' : 'Still wet'}</b> by {by}, <When at={at} />: {found}
            </li>
          ))}
        </ul>
      )}
    </>
  )
}

/** Asks for what was found before whether it is dry: a yes alone is no inspection. */
function Inspection(props: { readonly sample: Sample; readonly busy: boolean; readonly error: Error | null; readonly onClose: () => void; readonly onFound: (found: string, dry: boolean) => void }): ReactNode {
  const [found, setFound] = useState('')
  const [dry, setDry] = useState<'yes' | 'no' | null>(null)
  const [tried, setTried] = useState(false)
  const problem = found.trim() === '' ? 'Say what was found: where you looked, with what, and what was there.' : undefined
  return (
    <FormDialog
      title={`Inspection of ${props.sample.label}`}
      explain="Look under the lid of the socket or slot, between the contacts, and at the underside. Follow the maker's limits for drying."
      act="Enter it"
      busy={props.busy}
      error={props.error}
      problem={tried && dry === null ? 'Say whether it is dry.' : undefined}
      onClose={props.onClose}
      onSend={() => {
        setTried(true)
        if (problem === undefined && dry !== null) props.onFound(found.trim(), dry === 'yes')
      }}
    >
      <Field label="What was found" problem={tried ? problem : undefined}>
        {(control) => <textarea {...control} rows={3} maxLength={2000} value={found} onChange={(event) => setFound(event.currentTarget.value)} />}
      </Field>
      <fieldset className="choices">
        <legend>Is it dry and sound?</legend>
        <label>
          <input type="radio" name="dry" checked={dry === 'no'} onChange={() => setDry('no')} /> No, it stays locked
        </label>
        <label>
          <input type="radio" name="dry" checked={dry === 'yes'} onChange={() => setDry('yes')} /> Yes, it may go back
        </label>
      </fieldset>
    </FormDialog>
  )
}
