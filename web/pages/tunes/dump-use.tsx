// What a mapped dump is for: a new tune, what was in force in a start, or only to be held against a tune. The text itself is kept as evidence beside what came of it.
import { useState, type ReactNode } from 'react'
import { useQueryClient } from '@tanstack/react-query'
import { Link, useNavigate } from '@tanstack/react-router'
import type { ChangeItem } from '@guardband/model'
import { LONGEST_WHAT } from '@guardband/model/change-limits'
import type { DumpSettings } from '@guardband/model/dump/dump-settings'
import { layoutOf, type MappedDump } from '@guardband/model/dump/map-names'
import type { ReadDump } from '@guardband/model/dump/read-dump'
import { counted } from '@guardband/model/figures'
import type { Known } from '@guardband/model/records/base'
import type { DumpName, Layout } from '@guardband/model/records/layout'
import type { InForce, Tune } from '@guardband/model/records/tune'
import { appliedOf } from '@guardband/model/settings/applied'
import { sameAsked } from '@guardband/model/settings/differences'
import type { SettingBook } from '@guardband/model/settings/setting-book'
import { settingPlace } from '@guardband/model/tune-settings'
import { applyChange, type NewChange } from '../../hub/apply.ts'
import { call, HubError } from '../../hub/client.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { useRecords } from '../../hub/use-records.ts'
import { ChoiceField, TextField } from '../../pieces/field.tsx'
import { Failed } from '../../shell/states.tsx'
import { DifferenceTable } from './difference-table.tsx'
import { pastCeilings, settingsBelow } from './settled.ts'

export interface DumpUseProps {
  readonly dump: ReadDump
  readonly mapped: MappedDump
  readonly names: readonly DumpName[]
  readonly settings: DumpSettings
  readonly given: { readonly text: string; readonly file: string }
  readonly book: SettingBook
}

type Use = 'tune' | 'start' | 'compare'

export function DumpUse(props: DumpUseProps): ReactNode {
  const [use, setUse] = useState<Use>('tune')
  return (
    <section className="sheet form">
      <fieldset className="choices">
        <legend>What is it for?</legend>
        {USES.map(({ value, text }) => (
          <label key={value}>
            <input type="radio" name="dump-use" checked={use === value} onChange={() => setUse(value)} />
            {text}
          </label>
        ))}
      </fieldset>
      {use === 'tune' ? <AsTune {...props} /> : use === 'start' ? <AsInForce {...props} /> : <Against {...props} />}
    </section>
  )
}

const USES: readonly { readonly value: Use; readonly text: string }[] = [
  { value: 'tune', text: 'A new tune that asks for what it asks for' },
  { value: 'start', text: 'What was in force in a start' },
  { value: 'compare', text: 'Only to hold against a tune: nothing is kept' },
]

function AsTune(props: DumpUseProps): ReactNode {
  const { settings, given, mapped } = props
  const [name, setName] = useState('')
  const [base, setBase] = useState('')
  const [pass, setPass] = useState('')
  const ceilings = useRecords('ceiling')
  const who = useHub('who').data?.who
  const [tried, setTried] = useState(false)
  const list = useHub('tuneList')
  const baseWhole = useHub('tune', { params: { id: base }, ...(base === '' ? { skip: true } : {}) })
  const keep = useKeep()
  const navigate = useNavigate()
  const rows = list.data?.rows ?? []
  const taken = rows.some((row) => row.name.toLowerCase() === name.trim().toLowerCase())
  const problem = name.trim() === '' ? 'The tune needs a name.' : taken ? 'Another tune has this name.' : undefined
  const asked = base === '' || baseWhole.data?.tune.id !== base ? settings.asked : changesOn(settings.asked, baseWhole.data.settings)
  const past = pastCeilings(settingsBelow(base !== '' && baseWhole.data?.tune.id === base ? baseWhole.data.settings : undefined), asked, ceilings.records ?? [])
  const unreasoned = past.length > 0 && pass.trim() === '' ? 'Say why it may pass.' : undefined
  return (
    <>
      <div className="sides">
        <TextField label="Name of the tune" value={name} onValue={setName} problem={tried ? problem : undefined} />
        <ChoiceField label="As changes on" value={base} choices={[{ value: '', text: 'nothing: all of it' }, ...rows.map((row) => ({ value: row.id, text: row.name }))]} onValue={setBase} />
      </div>
      {past.length === 0 ? null : (
        <>
          {past.map(({ ceilingId, key, sentence }) => (
            <p key={`${ceilingId} ${key}`}>{sentence}</p>
          ))}
          <TextField label="Why it may pass" hint="The reason stands in every report of it. Samples that are started so go into quarantine." value={pass} onValue={setPass} maxLength={2000} problem={tried ? unreasoned : undefined} />
        </>
      )}
      <KeepButton
        text={`Keep ${counted(asked.length, 'setting')} as a tune`}
        keep={keep}
        disabled={asked.length === 0 || ceilings.records === undefined || (base !== '' && baseWhole.data?.tune.id !== base)}
        onKeep={() => {
          setTried(true)
          if (problem !== undefined || unreasoned !== undefined) return
          const tune: Tune = {
            kind: 'tune', id: newId(), name: name.trim(), settings: [...asked], ...(base === '' ? {} : { baseId: base }),
            ...(past.length === 0 ? {} : { override: { ceilingIds: [...new Set(past.map(({ ceilingId }) => ceilingId))], reason: pass.trim(), by: who ?? 'unknown', at: new Date().toISOString() } }),
          }
          keep.send({ what: `Entered tune ${tune.name} from the dump ${given.file}: ${counted(asked.length, 'setting')}`.slice(0, LONGEST_WHAT), ...reason(oddWords(settings)), items: [{ before: null, after: tune }, ...layoutItems(props, mapped)] }, { about: tune.id, given, done: () => void navigate({ to: '/tunes/$id', params: { id: tune.id } }) })
        }}
      />
    </>
  )
}

/** Only what the base does not ask for already. */
function changesOn(asked: DumpSettings['asked'], base: readonly { readonly setting: Tune['settings'][number] }[]): DumpSettings['asked'] {
  const below = new Map(base.map(({ setting }) => [settingPlace(setting), setting.asked]))
  return asked.filter((setting) => {
    const found = below.get(settingPlace(setting))
    return found === undefined || !sameAsked(found, setting.asked)
  })
}

function AsInForce(props: DumpUseProps): ReactNode {
  const { settings, given, mapped } = props
  const starts = useHub('startsToName')
  const [startId, setStartId] = useState('')
  const [known, setKnown] = useState<Known>('read back')
  const [stays, setStays] = useState<'' | 'yes' | 'no'>('')
  const [tried, setTried] = useState(false)
  const rows = starts.data?.rows ?? []
  const start = rows.find(({ id }) => id === startId)
  const held = start?.inForce[0]
  const record = useHub('record', { params: { id: held?.id ?? '' }, ...(held === undefined ? { skip: true } : {}) })
  const tuneId = held?.tuneId ?? start?.tuneId ?? null
  const tune = useHub('tune', { params: { id: tuneId ?? '' }, ...(tuneId === null ? { skip: true } : {}) })
  const keep = useKeep()
  const navigate = useNavigate()
  const before = record.data?.record.kind === 'in force' && record.data.record.id === held?.id ? record.data.record : undefined
  const inForce = settings.inForce.map((setting) => ({ ...setting, known }))
  const applied = tune.data === undefined || tune.data.tune.id !== tuneId ? null : appliedOf({ asked: tune.data.settings.map(({ setting }) => setting), inForce })
  const differs = applied !== null && applied.otherwise.length > 0
  const problem = startId === '' ? 'Choose the start that it was read in.' : differs && stays === '' ? 'Say whether the runs of that start still count for the tune.' : undefined
  return (
    <>
      <ChoiceField label="Start" value={startId} choices={[{ value: '', text: rows.length === 0 ? 'no start yet' : 'choose' }, ...rows.map(({ id, name }) => ({ value: id, text: name }))]} onValue={(value) => { setStartId(value); setStays('') }} problem={tried && startId === '' ? problem : undefined} />
      <ChoiceField label="How it is known" value={known} choices={HOW_KNOWN} onValue={(value) => setKnown(HOW_KNOWN.find((choice) => choice.value === value)?.value ?? known)} />
      {applied === null ? null : <p>{applied.sentence}</p>}
      {applied === null || applied.otherwise.length === 0 ? null : (
        <>
          <DifferenceTable label="Asked and not applied" nameA="asked" nameB="in force" rows={applied.otherwise.map((row) => ({ ...row, points: [...row.points] }))} />
          <ChoiceField
            label={`Do its runs count for ${tune.data?.tune.name ?? 'the tune'}?`}
            value={stays}
            choices={[{ value: '', text: 'choose' }, { value: 'yes', text: 'Yes: the difference is none that matters here' }, { value: 'no', text: 'No: what ran was something else' }]}
            onValue={(value) => setStays(value === 'yes' || value === 'no' ? value : '')}
            problem={tried && startId !== '' ? problem : undefined}
          />
        </>
      )}
      <KeepButton
        text={`Keep ${counted(inForce.length, 'setting')} as in force`}
        keep={keep}
        disabled={inForce.length === 0 || (held !== undefined && before === undefined)}
        onKeep={() => {
          setTried(true)
          if (problem !== undefined || start === undefined) return
          const { tuneId: had, ...rest } = before ?? { kind: 'in force' as const, id: newId(), startId: start.id, known, settings: [], ...(start.tuneId === null ? {} : { tuneId: start.tuneId }) }
          const after: InForce = { ...rest, known, settings: inForce, ...(had === undefined || (differs && stays === 'no') ? {} : { tuneId: had }) }
          const why = [oddWords(settings) ?? '', differs ? (stays === 'no' ? 'What ran was not what was asked.' : 'The difference from what was asked is none that matters here.') : ''].filter((part) => part !== '').join(' ')
          keep.send({ what: `Read what was in force in ${start.name} from the dump ${given.file}`.slice(0, LONGEST_WHAT), ...reason(why === '' ? undefined : why), items: [{ before: before ?? null, after }, ...layoutItems(props, mapped)] }, { about: start.id, given, done: () => void navigate({ to: '/starts/$id', params: { id: start.id } }) })
        }}
      />
    </>
  )
}

const HOW_KNOWN: readonly { readonly value: Known; readonly text: string }[] = [
  { value: 'read back', text: 'Read back: the machine wrote it in this very start' },
  { value: 'seen by a person', text: 'Seen by a person: typed off the screen in this start' },
  { value: 'unverified', text: 'Unverified: written before or after, or asked for and not read back' },
]

function Against({ settings }: DumpUseProps): ReactNode {
  const list = useHub('tuneList')
  const [id, setId] = useState('')
  const tune = useHub('tune', { params: { id }, ...(id === '' ? { skip: true } : {}) })
  const applied = id === '' || tune.data?.tune.id !== id ? null : appliedOf({ asked: tune.data.settings.map(({ setting }) => setting), inForce: settings.inForce })
  return (
    <>
      <ChoiceField label="Tune" value={id} choices={[{ value: '', text: 'choose' }, ...(list.data?.rows ?? []).map((row) => ({ value: row.id, text: row.name }))]} onValue={setId} />
      {tune.isError ? <Failed error={tune.error} /> : null}
      {applied === null ? null : (
        <>
          <p role="status">{applied.sentence}</p>
          {applied.otherwise.length === 0 ? null : <DifferenceTable label="Asked and not applied" nameA="asked" nameB="in the dump" rows={applied.otherwise.map((row) => ({ ...row, points: [...row.points] }))} />}
          {applied.autos.length === 0 ? null : <p className="soft">Auto came to: {applied.autos.map(({ key, place, value }) => `${key}${place === '' ? '' : `, ${place}`} ${value}`).join('; ')}.</p>}
        </>
      )}
    </>
  )
}

function layoutItems({ dump, names, given }: DumpUseProps, mapped: MappedDump): readonly ChangeItem[] {
  const before = mapped.layout?.record ?? null
  const of = layoutOf(dump, mapped, names)
  const after: Layout = before === null ? { kind: 'layout', id: newId(), name: given.file.slice(0, LONGEST_NAME), fingerprint: mapped.fingerprint, of } : { ...before, fingerprint: mapped.fingerprint, of }
  return before !== null && JSON.stringify(before) === JSON.stringify(after) ? [] : [{ before, after }]
}

const LONGEST_NAME = 200

function oddWords({ doubts }: DumpSettings): string | undefined {
  if (doubts.length === 0) return undefined
  return `Odd in the dump, kept as it stands: ${doubts.map(({ line, key, doubt }) => `line ${line}, ${key} (${doubt.sentence})`).join('; ')}`.slice(0, LONGEST_WHY)
}

const LONGEST_WHY = 1500

function reason(why: string | undefined): Pick<NewChange, 'why'> {
  return why === undefined ? {} : { why }
}

interface Keep {
  readonly busy: boolean
  readonly error: Error | null
  /** Sends what was sent again, as it was and under the same ids, so that nothing is kept twice; null where nothing waits for that. */
  readonly again: (() => void) | null
  /** The change itself stands already; only the text beside it is missing. */
  readonly made: boolean
  readonly send: (change: NewChange, text: Text) => void
}

/** The dump itself, and the record that it stands beside. */
interface Text {
  readonly about: string
  readonly given: DumpUseProps['given']
  readonly done: () => void
}

interface Sending {
  readonly change: NewChange
  readonly text: Text
  readonly changeRequest: string
  readonly textRequest: string
}

/** The change first, then the text beside it: without the change there would be nothing for it to stand beside. */
function useKeep(): Keep {
  const queries = useQueryClient()
  const [error, setError] = useState<Error | null>(null)
  const [busy, setBusy] = useState(false)
  const [waiting, setWaiting] = useState<{ readonly sending: Sending; readonly made: boolean } | null>(null)
  const keepAll = async (sending: Sending, madeBefore: boolean): Promise<void> => {
    const { change, text, changeRequest, textRequest } = sending
    let made = madeBefore
    setBusy(true)
    setError(null)
    try {
      if (!made) await applyChange(change, changeRequest)
      made = true
      await call('keepEvidence', { input: { request: textRequest, name: text.given.file, type: 'text/plain', about: text.about }, text: new Blob([text.given.text], { type: 'text/plain' }) })
      setWaiting(null)
      text.done()
    } catch (cause) {
      setError(cause instanceof Error ? cause : new Error(String(cause)))
      // What the hub refused was not made: it is mended in the form and sent as another change.
      setWaiting(made || (cause instanceof HubError && cause.code === 'hub-silent') ? { sending, made } : null)
    } finally {
      if (made) void queries.invalidateQueries()
      setBusy(false)
    }
  }
  return {
    busy, error,
    again: waiting === null ? null : () => void keepAll(waiting.sending, waiting.made),
    made: waiting?.made === true,
    send: (change, text) => void keepAll({ change, text, changeRequest: newId(), textRequest: newId() }, false),
  }
}

function KeepButton({ text, keep, disabled, onKeep }: { readonly text: string; readonly keep: Keep; readonly disabled: boolean; readonly onKeep: () => void }): ReactNode {
  return (
    <>
      {keep.error === null ? null : <Failed error={keep.error} />}
      {keep.again === null ? null : <p role="status">{keep.made ? 'The settings are kept; only the text of the dump does not stand beside them yet.' : 'Whether it was kept is not known. Sent again, it is kept once.'}</p>}
      <div className="buttons">
        <button type="button" className="button button-main" disabled={(disabled && keep.again === null) || keep.busy} onClick={keep.again ?? onKeep}>
          {keep.again === null ? text : keep.made ? 'Send the text again' : 'Send it again'}
        </button>
        <Link className="button" to="/tunes">
          Leave it
        </Link>
      </div>
    </>
  )
}
