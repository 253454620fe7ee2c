// The filters of the list of runs. Words are looked for once the typing pauses; everything stands in the address.
import { useRef, useState, type ReactNode } from 'react'
import { useNavigate } from '@tanstack/react-router'
import { outcomeSchema } from '@guardband/model/records/run'
import { useHub } from '../hub/queries.ts'
import { isNarrowed, MOST_FIND, outcomeOf, type RunFilter } from './run-filter.ts'

export function RunFilters({ filter }: { readonly filter: RunFilter }): ReactNode {
  const navigate = useNavigate()
  const put = (changed: RunFilter): void => void navigate({ to: '/runs', search: { ...filter, ...changed, from: undefined }, replace: true })
  return (
    <search>
      <form className="filters" onSubmit={(event) => event.preventDefault()}>
        <FindField find={filter.find} onFind={(find) => put({ find })} />
        <label>
          Outcome{' '}
          <select value={filter.outcome ?? ''} onChange={(event) => put({ outcome: outcomeOf(event.currentTarget.value) })}>
            <option value="">any</option>
            <option value="failed">any failure</option>
            <option value="set aside">set aside</option>
            {outcomeSchema.options.map((outcome) => (
              <option key={outcome}>{outcome}</option>
            ))}
          </select>
        </label>
        <MoreFilters filter={filter} onPut={put} />
      </form>
    </search>
  )
}

function FindField({ find, onFind }: { readonly find: string | undefined; readonly onFind: (find: string | undefined) => void }): ReactNode {
  const [text, setText] = useState(find ?? '')
  const [known, setKnown] = useState({ find, sent: find })
  const timer = useRef<ReturnType<typeof setTimeout> | undefined>(undefined)
  // Back, forward and "see all runs" change the address without a key; what was typed here is not typed over by its own echo.
  if (known.find !== find) {
    setKnown({ ...known, find })
    if (find !== known.sent) setText(find ?? '')
  }
  const type = (typed: string): void => {
    setText(typed)
    clearTimeout(timer.current)
    timer.current = setTimeout(() => {
      const wanted = typed.trim() === '' ? undefined : typed.trim()
      setKnown((before) => ({ ...before, sent: wanted }))
      onFind(wanted)
    }, PAUSE_MS)
  }
  return (
    <label>
      Find <input type="search" value={text} maxLength={MOST_FIND} placeholder="workload, sample, tune, start ..." onChange={(event) => type(event.currentTarget.value)} />
    </label>
  )
}

/** Shorter than a person waits for, longer than between two keys. */
const PAUSE_MS = 150

function MoreFilters({ filter, onPut }: { readonly filter: RunFilter; readonly onPut: (changed: RunFilter) => void }): ReactNode {
  const [open, setOpen] = useState(isNarrowed(filter))
  const skip = open ? {} : { skip: true as const }
  const workloads = useHub('workloads', skip).data?.workloads ?? []
  const tunes = useHub('tunes', skip).data?.rows ?? []
  const parts = useHub('parts', skip).data?.rows ?? []
  return (
    <details className="more-filters" open={open} onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>By workload, tune, sample or day</summary>
      <div className="filters">
        <Narrowing label="Workload" value={filter.workload} onValue={(workload) => onPut({ workload })} groups={[{ name: null, choices: workloads }]} />
        <Narrowing label="Tune in force" value={filter.tune} onValue={(tune) => onPut({ tune })} groups={[{ name: null, choices: tunes.map(({ tune }) => tune) }]} />
        <Narrowing
          label="Sample"
          value={filter.sample}
          onValue={(sample) => onPut({ sample })}
          groups={parts.filter(({ samples }) => samples.length > 0).map(({ part, samples }) => ({ name: part.name, choices: samples.map(({ sample }) => ({ id: sample.id, name: sample.label })) }))}
        />
        <label className="day">
          Started from <input type="date" value={filter.since ?? ''} onChange={(event) => onPut({ since: event.currentTarget.value === '' ? undefined : event.currentTarget.value })} />
        </label>
        <label className="day">
          to <input type="date" value={filter.until ?? ''} onChange={(event) => onPut({ until: event.currentTarget.value === '' ? undefined : event.currentTarget.value })} />
        </label>
      </div>
    </details>
  )
}

interface NamedGroup {
  readonly name: string | null
  readonly choices: readonly { readonly id: string; readonly name: string }[]
}

function Narrowing({ label, value, groups, onValue }: { readonly label: string; readonly value: string | undefined; readonly groups: readonly NamedGroup[]; readonly onValue: (value: string | undefined) => void }): ReactNode {
  const options = (choices: NamedGroup['choices']): ReactNode =>
    choices.map(({ id, name }) => (
      <option key={id} value={id}>
        {name}
      </option>
    ))
  return (
    <label>
      {label}{' '}
      <select value={value ?? ''} onChange={(event) => onValue(event.currentTarget.value === '' ? undefined : event.currentTarget.value)}>
        <option value="">any</option>
        {groups.map((group) => (group.name === null ? options(group.choices) : <optgroup key={group.name} label={group.name}>{options(group.choices)}</optgroup>))}
      </select>
    </label>
  )
}
