// Puts a sample into a slot of a rig, in place of what sits there: a new assembly from a moment on.
import { useId, useState, type ReactNode } from 'react'
import type { RigRow } from '@guardband/model/api'
import { slotSchema, type Assembly, type Mount, type Part, type Sample } from '@guardband/model/records/parts'
import { assemblyNow, changeSlot, seatNow, UNDER_COOLER } from '@guardband/model/seating'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { ChoiceField, Field, TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { DateField } from '../parts/date-field.tsx'
import type { DoneAct } from '../parts/done.tsx'
import { minuteMoment, minuteText } from '../parts/moments.ts'
import { SLOT_CHOICES } from '../parts/status-words.ts'
import { MountFields, mountDraft, mountOf } from './mount-dialog.tsx'

interface Candidate {
  readonly sample: Sample
  readonly part: Part
  /** Another rig that it sits in now. */
  readonly elsewhere: RigRow['rig'] | null
}

export function SeatDialog(props: {
  readonly row: RigRow
  readonly rows: readonly RigRow[]
  readonly mount: Mount | undefined
  /** What is swapped; without it, a slot is chosen. */
  readonly slot?: Assembly['slots'][number]
  readonly onClose: () => void
  readonly onDone: (act: DoneAct) => void
}): ReactNode {
  const { row, rows, mount, slot: swapped, onClose, onDone } = props
  const { rig } = row
  const apply = useApply()
  const parts = useHub('parts')
  const assemblies = rows.flatMap((other) => other.assemblies.map(({ assembly }) => assembly))
  const now = assemblyNow(assemblies, rig.id)
  const [slot, setSlot] = useState<string>(swapped?.slot ?? 'processor')
  const [position, setPosition] = useState(swapped?.position ?? '')
  const [find, setFind] = useState('')
  const [chosen, setChosen] = useState<string | null>(null)
  const [when, setWhen] = useState(() => minuteText(new Date()))
  const [takeOut, setTakeOut] = useState(false)
  const [remounted, setRemounted] = useState<boolean | null>(null)
  const [draft, setDraft] = useState(mountDraft(mount))
  const [tried, setTried] = useState(false)

  const place = slotSchema.parse(slot)
  const candidates = (parts.data?.rows ?? []).flatMap(({ part, samples }) =>
    part.slot !== place ? [] : samples.filter(({ sample }) => sample.id !== swapped?.sampleId).map(({ sample }): Candidate => ({ sample, part, elsewhere: elsewhereOf(sample.id) })),
  )
  const words = find.toLowerCase().split(/\s+/).filter((word) => word !== '')
  const found = candidates.filter(({ sample, part }) => words.every((word) => `${part.name} ${sample.label} ${sample.serial ?? ''} ${sample.batch ?? ''}`.toLowerCase().includes(word)))
  const candidate = candidates.find(({ sample }) => sample.id === chosen)
  const at = minuteMoment(when)
  const under = UNDER_COOLER.has(place)
  const off = remounted ?? under
  const sitting = swapped ?? now?.slots.find((other) => other.slot === place && (other.position ?? '') === position.trim())
  const problem = chosen === null
    ? 'Choose what goes in.'
    : chosen !== NOTHING && candidate === undefined
      ? 'Choose what goes in.'
      : candidate?.sample.status === 'wet'
        ? `Choose another than ${candidate.sample.label}.`
        : candidate?.elsewhere != null && !takeOut
          ? `${candidate.sample.label} sits in ${candidate.elsewhere.name}. It can't sit in two rigs at once: take it out there, or choose another.`
          : undefined
  const whenProblem = at === null ? 'Say from when on.' : now !== undefined && Date.parse(at) <= Date.parse(now.since) ? `It must be after ${momentWords.format(new Date(now.since))}, when what sits there now was put in.` : undefined

  const send = (): void => {
    setTried(true)
    if (at === null || problem !== undefined || whenProblem !== undefined) return
    const items = changeSlot({ rigId: rig.id, seat: { slot: place, ...(position.trim() === '' ? {} : { position: position.trim() }) }, sampleId: candidate?.sample.id ?? null, since: at, assemblies, newId })
    const own = items[0]?.after
    const mounts = off && under && candidate !== undefined && own != null ? [{ before: null, after: mountOf(draft, { id: newId(), assemblyId: own.id, at }) }] : []
    const what = sentenceOf({ rig: rig.name, slot: slot + (position.trim() === '' ? '' : ` ${position.trim()}`), out: sitting === undefined ? null : nameOf(sitting.sampleId), into: candidate === undefined ? null : `${candidate.part.name} ${candidate.sample.label}` })
    apply.mutate({ what, items: [...items, ...mounts] }, { onSuccess: (change) => onDone({ change, sentence: `${what}.` }) })
  }
  return (
    <FormDialog
      title={swapped === undefined ? `Put a sample into ${rig.name}` : `Swap the ${swapped.slot}${swapped.position === undefined ? '' : ` ${swapped.position}`} of ${rig.name}`}
      act={chosen === NOTHING ? 'Leave it empty' : swapped === undefined ? 'Put it in' : 'Swap'}
      busy={apply.isPending}
      error={apply.error}
      problem={problem}
      onClose={onClose}
      onSend={send}
    >
      {swapped === undefined ? (
        <>
          <ChoiceField
            label="Slot"
            value={slot}
            choices={SLOT_CHOICES}
            onValue={(value) => {
              setSlot(value)
              setChosen(null)
            }}
          />
          <TextField label="Position" maxLength={40} value={position} onValue={setPosition} hint="Where a rig has several of it: A1, bay 2." />
        </>
      ) : null}
      <SampleChoice
        find={find}
        onFind={setFind}
        found={found.slice(0, MOST_SHOWN)}
        more={Math.max(0, found.length - MOST_SHOWN)}
        none={candidates.length === 0 ? `There is no ${swapped === undefined ? '' : 'other '}sample of a ${slot} part. Enter it on the page Parts.` : 'No sample matches.'}
        empty={sitting === undefined ? null : `nothing: ${nameOf(sitting.sampleId)} is taken out`}
        chosen={chosen}
        onChosen={(id) => {
          setChosen(id)
          setTakeOut(false)
        }}
      />
      {candidate?.sample.status === 'wet' ? (
        <p className="problem" role="alert">
          {wetSentence(candidate)}
        </p>
      ) : null}
      {candidate?.elsewhere == null ? null : (
        <label className="tick">
          <input type="checkbox" checked={takeOut} onChange={(event) => setTakeOut(event.currentTarget.checked)} /> Take it out of {candidate.elsewhere.name} at the same moment
        </label>
      )}
      {candidate?.sample.status === 'quarantined' ? <p className="hint">{candidate.sample.label} is in quarantine: it may be tested, not sold.</p> : null}
      <DateField label="From" to="minute" value={when} onValue={setWhen} problem={tried ? whenProblem : undefined} />
      {under && candidate !== undefined ? (
        <>
          <label className="tick">
            <input type="checkbox" checked={off} onChange={(event) => setRemounted(event.currentTarget.checked)} /> The cooler is mounted again as follows
          </label>
          {off ? <MountFields draft={draft} onDraft={setDraft} /> : null}
        </>
      ) : null}
    </FormDialog>
  )

  function elsewhereOf(sampleId: string): RigRow['rig'] | null {
    const seat = seatNow(assemblies, sampleId)
    return seat === undefined || seat.rigId === rig.id ? null : (rows.find((other) => other.rig.id === seat.rigId)?.rig ?? null)
  }

  function nameOf(sampleId: string): string {
    for (const { part, samples } of parts.data?.rows ?? []) for (const { sample } of samples) if (sample.id === sampleId) return `${part.name} ${sample.label}`
    return 'what sits there'
  }
}

function SampleChoice(props: {
  readonly find: string
  readonly onFind: (find: string) => void
  readonly found: readonly Candidate[]
  readonly more: number
  readonly none: string
  /** The choice that leaves the slot empty; null where nothing sits there. */
  readonly empty: string | null
  readonly chosen: string | null
  readonly onChosen: (id: string) => void
}): ReactNode {
  const group = useId()
  return (
    <fieldset className="choices sample-choice">
      <legend>What goes in</legend>
      {props.more === 0 && props.find === '' ? null : <Field label="Find">{(control) => <input {...control} type="search" value={props.find} placeholder="label, serial, part ..." onChange={(event) => props.onFind(event.currentTarget.value)} />}</Field>}
      {props.found.length === 0 ? <p className="hint">{props.none}</p> : null}
      {props.found.map(({ sample, part, elsewhere }) => (
        <label key={sample.id}>
          <input type="radio" name={group} checked={props.chosen === sample.id} onChange={() => props.onChosen(sample.id)} />
          <span>
            {part.name} <b>{sample.label}</b>
            <small>
              {[sample.status === 'bench' ? '' : sample.status, sample.serial ?? '', elsewhere === null ? '' : `sits in ${elsewhere.name}`].filter((text) => text !== '').join(' · ')}
            </small>
          </span>
        </label>
      ))}
      {props.more === 0 ? null : <p className="hint">and {props.more} more; say more of what you look for.</p>}
      {props.empty === null ? null : (
        <label>
          <input type="radio" name={group} checked={props.chosen === NOTHING} onChange={() => props.onChosen(NOTHING)} />
          <span>{props.empty}</span>
        </label>
      )}
    </fieldset>
  )
}

function wetSentence({ sample, part }: Candidate): string {
  return `${part.name}, ${sample.label} is wet, so it can't be put in. Dry it, look at it, and enter an inspection on its page that found it dry.`
}

function sentenceOf({ rig, slot, out, into }: { readonly rig: string; readonly slot: string; readonly out: string | null; readonly into: string | null }): string {
  if (into === null) return `Took ${out ?? 'what sat there'} out of ${rig} (${slot})`
  return out === null ? `Put ${into} into ${rig} (${slot})` : `Swapped the ${slot} of ${rig}: ${into} in place of ${out}`
}

const NOTHING = 'nothing'
const MOST_SHOWN = 8
const momentWords = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', year: 'numeric', hour: '2-digit', minute: '2-digit' })
