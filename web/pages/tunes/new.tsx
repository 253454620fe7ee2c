// A new tune, or changes to one: its name, what it stands on, and a sheet of settings typed one a line.
import { useEffect, useMemo, useRef, useState, type ReactNode } from 'react'
import { Link, useNavigate, useSearch } from '@tanstack/react-router'
import type { ChangeItem } from '@guardband/model'
import type { TuneListRow, TuneWhole } from '@guardband/model/api/tunes'
import { LONGEST_WHY } from '@guardband/model/change-limits'
import { counted } from '@guardband/model/figures'
import type { Ceiling } from '@guardband/model/records/safety'
import { settingText, type Setting, type SettingKind, type Tune } from '@guardband/model/records/tune'
import { settingBook, type SettingBook } from '@guardband/model/settings/setting-book'
import { settingLine } from '@guardband/model/settings/setting-line'
import { settingPlace } from '@guardband/model/tune-settings'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { useRecords } from '../../hub/use-records.ts'
import { ChoiceField, TextField } from '../../pieces/field.tsx'
import { MarginNote, Page } from '../../shell/page.tsx'
import { Failed, Waiting } from '../../shell/states.tsx'
import { Doubts, SettingSheet } from './setting-sheet.tsx'
import { pastCeilings, possibleBases, settingsBelow } from './settled.ts'
import { createSheetReader, sheetTextOf, type Sheet } from './sheet-text.ts'

/** `/tunes/new`, on a base with `base`, changing a tune with `edit`. */
export function NewTunePage(): ReactNode {
  const { base, edit } = useSearch({ from: '/tunes/new' })
  const list = useHub('tuneList')
  const known = useHub('knownSettings', edit === undefined ? {} : { input: { except: edit } })
  const edited = useHub('tune', { params: { id: edit ?? '' }, ...(edit === undefined ? { skip: true } : {}) })
  const ceilings = useRecords('ceiling')
  const error = list.error ?? known.error ?? edited.error ?? ceilings.query.error
  const whole = edit === undefined ? null : edited.data
  if (list.data === undefined || known.data === undefined || ceilings.records === undefined || whole === undefined || (whole !== null && whole.tune.id !== edit)) {
    return (
      <Page crumbs={[{ text: 'Tunes', to: '/tunes' }, { text: 'New' }]} name="A new tune" headline="A new tune">
        {error === null ? <Waiting what="what the lab knows" /> : <Failed error={error} />}
      </Page>
    )
  }
  return <TuneForm key={edit ?? 'new'} rows={list.data.rows} book={settingBook(known.data.settings)} ceilings={ceilings.records} whole={whole} baseId={base} />
}

interface FormProps {
  readonly rows: readonly TuneListRow[]
  readonly book: SettingBook
  readonly ceilings: readonly Ceiling[]
  readonly whole: TuneWhole | null
  readonly baseId: string | undefined
}

function TuneForm({ rows, book: freshBook, ceilings, whole, baseId }: FormProps): ReactNode {
  // What the lab knew when the sheet was opened: a change elsewhere must not turn over what is being typed.
  const [book] = useState(freshBook)
  const [reader] = useState(() => createSheetReader(book))
  const [name, setName] = useState(whole?.tune.name ?? '')
  const [base, setBase] = useState(whole?.tune.baseId ?? baseId ?? '')
  const [text, setText] = useState(() => (whole === null ? '' : sheetTextOf(whole.tune.settings, book)))
  const [kept, setKept] = useState<ReadonlySet<string>>(new Set())
  const [left, setLeft] = useState<ReadonlySet<string>>(new Set())
  const [why, setWhy] = useState('')
  const [pass, setPass] = useState(whole?.tune.override?.reason ?? '')
  const [tried, setTried] = useState(false)
  const who = useHub('who').data?.who
  const apply = useApply()
  const navigate = useNavigate()
  const questions = useRef<HTMLElement>(null)
  const passing = useRef<HTMLElement>(null)
  const form = useRef<HTMLFormElement>(null)
  useEffect(() => {
    const keep = (event: KeyboardEvent): void => {
      if (event.key !== 'Enter' || !(event.ctrlKey || event.metaKey)) return
      event.preventDefault()
      form.current?.requestSubmit()
    }
    document.addEventListener('keydown', keep)
    return () => document.removeEventListener('keydown', keep)
  }, [])
  const fresh = whole === null
  useEffect(() => {
    if (fresh) form.current?.querySelector('input')?.focus()
  }, [fresh])
  const baseWhole = useHub('tune', { params: { id: base }, ...(base === '' ? { skip: true } : {}) })
  const below = useMemo(() => settingsBelow(base !== '' && baseWhole.data?.tune.id === base ? baseWhole.data.settings : undefined), [base, baseWhole.data])
  const sheet = useMemo(() => reader(text, kept), [reader, text, kept])
  const past = useMemo(() => pastCeilings(below, sheet.settings, ceilings), [below, sheet, ceilings])
  const problems = problemsOf({ name, rows, whole, sheet, past: past.length, pass, why })

  const save = (): void => {
    setTried(true)
    if (problems.length > 0) {
      if (problems.every(({ about }) => about === 'pass')) passing.current?.querySelector('input')?.focus()
      else questions.current?.focus()
      return
    }
    const tune: Tune = {
      kind: 'tune', id: whole?.tune.id ?? newId(), name: name.trim(), settings: [...sheet.settings],
      ...(base === '' ? {} : { baseId: base }),
      ...(whole?.tune.note === undefined ? {} : { note: whole.tune.note }),
      ...(past.length === 0 ? {} : { override: { ceilingIds: [...new Set(past.map(({ ceilingId }) => ceilingId))], reason: pass.trim(), by: who ?? 'unknown', at: new Date().toISOString() } }),
    }
    const kinds = sheet.newKeys.filter(({ key }) => !left.has(key)).map(({ setting }): ChangeItem => ({ before: null, after: kindOf(setting) }))
    const reason = [why.trim(), pass.trim() === '' || past.length === 0 ? '' : `Past a ceiling: ${pass.trim()}`, ...sheet.confirmed].filter((part) => part !== '').join(' ')
    const what = whole === null ? `Entered tune ${tune.name}: ${counted(tune.settings.length, 'setting')}` : `Changed tune ${tune.name}`
    apply.mutate(
      { what, ...(reason === '' ? {} : { why: reason.slice(0, LONGEST_WHY) }), items: [...kinds, { before: whole?.tune ?? null, after: tune }] },
      { onSuccess: () => void navigate({ to: '/tunes/$id', params: { id: tune.id } }) },
    )
  }

  const baseName = rows.find(({ id }) => id === base)?.name
  return (
    <Page
      crumbs={[{ text: 'Tunes', to: '/tunes' }, { text: whole === null ? 'New' : whole.tune.name }]}
      name={whole === null ? 'A new tune' : `Change ${whole.tune.name}`}
      headline={whole === null ? (baseName === undefined ? 'A new tune' : `A new tune on ${baseName}`) : `Change ${whole.tune.name}`}
      margin={
        <>
          <MarginNote title="Asked, not applied">
            <p>A tune says what is asked of the board. What was in force is kept with each start, with how it is known.</p>
          </MarginNote>
          <MarginNote title="Odd figures">
            <p>A figure ten times off, volts for millivolts, or one between two steps is questioned. Nothing is changed unless you take the mend; what you keep as typed stands in the change log.</p>
          </MarginNote>
        </>
      }
    >
      {whole === null ? null : <History whole={whole} />}
      <form
        ref={form}
        className="form"
        onSubmit={(event) => {
          event.preventDefault()
          save()
        }}
      >
        <div className="sides">
          <TextField label="Name" value={name} onValue={setName} problem={tried ? problems.find(({ about }) => about === 'name')?.sentence : undefined} />
          <ChoiceField
            label="Stands on"
            value={base}
            choices={[{ value: '', text: 'nothing: all that it asks for stands here' }, ...possibleBases(rows, whole?.tune.id).map((row) => ({ value: row.id, text: row.name }))]}
            onValue={setBase}
          />
        </div>
        <SettingSheet
          text={text}
          onText={setText}
          sheet={sheet}
          book={book}
          onKeep={(id) => setKept(new Set([...kept, id]))}
          below={(setting) => {
            const found = below.get(settingPlace(setting))
            return found === undefined ? null : settingText(found.asked)
          }}
        />
        {sheet.open.length + (tried ? sheet.unclear.length : 0) === 0 ? null : (
          <section ref={questions} tabIndex={-1} aria-label="To look at before it is kept">
            <h2>To look at</h2>
            <ul className="doubt-list">
              {(tried ? sheet.unclear : []).map((line) => (
                <li key={`unclear ${line.index}`}>
                  <code>{line.text.trim()}</code>
                  <p className="problem">{line.problem}</p>
                </li>
              ))}
              {sheet.open.map(({ line, doubt }) => (
                <li key={`${line.index} ${doubt.id}`}>
                  <code>{line.text.trim()}</code>
                  <Doubts
                    doubts={[doubt]}
                    onKeep={(id) => setKept(new Set([...kept, id]))}
                    onMend={(mend) => {
                      if (line.reading.status === 'read') setText(text.split('\n').with(line.index, settingLine({ ...line.reading.setting, asked: mend.asked }, line.reading.known ?? undefined)).join('\n'))
                    }}
                  />
                </li>
              ))}
            </ul>
          </section>
        )}
        <NewKeys sheet={sheet} left={left} onLeft={setLeft} />
        {past.length === 0 ? null : (
          <section ref={passing} className="notice notice-failed">
            <h2>Past a ceiling</h2>
            {past.map(({ sentence, ceilingId, key, scope }) => (
              <p key={`${ceilingId} ${key} ${scope.index ?? ''}`}>{sentence}</p>
            ))}
            <TextField label="Let it pass, because" hint="Stands in every report of this tune." value={pass} onValue={setPass} maxLength={2000} problem={tried ? problems.find(({ about }) => about === 'pass')?.sentence : undefined} />
          </section>
        )}
        {whole === null || runsMoved(whole) === 0 ? null : <TextField label="Why it is changed although it has runs" value={why} onValue={setWhy} maxLength={1000} problem={tried ? problems.find(({ about }) => about === 'why')?.sentence : undefined} />}
        {apply.isError ? <Failed error={apply.error} /> : null}
        {tried && problems.some(({ about }) => about === 'sheet') ? (
          <p className="problem" role="alert">
            {problems.find(({ about }) => about === 'sheet')?.sentence}
          </p>
        ) : null}
        <div className="buttons">
          <button type="submit" className="button button-main" disabled={apply.isPending}>
            {whole === null ? 'Keep the tune' : 'Keep the change'}
          </button>
          <span className="hint">{counted(sheet.settings.length, 'setting')}. Control and Enter keeps it from anywhere.</span>
        </div>
      </form>
    </Page>
  )
}

interface FormProblem {
  readonly about: 'name' | 'sheet' | 'pass' | 'why'
  readonly sentence: string
}

function problemsOf(input: { readonly name: string; readonly rows: readonly TuneListRow[]; readonly whole: TuneWhole | null; readonly sheet: Sheet; readonly past: number; readonly pass: string; readonly why: string }): readonly FormProblem[] {
  const { name, rows, whole, sheet } = input
  const found: FormProblem[] = []
  if (name.trim() === '') found.push({ about: 'name', sentence: 'A tune needs a name: what you would call it across the bench.' })
  else if (rows.some((row) => row.id !== whole?.tune.id && row.name.toLowerCase() === name.trim().toLowerCase())) found.push({ about: 'name', sentence: 'Another tune has this name; runs that come in by name would not know which.' })
  if (sheet.unclear.length > 0) found.push({ about: 'sheet', sentence: `${counted(sheet.unclear.length, 'line')} can't be read yet; see above.` })
  else if (sheet.open.length > 0) found.push({ about: 'sheet', sentence: `${counted(sheet.open.length, 'figure')} ${sheet.open.length === 1 ? 'looks' : 'look'} odd: mend ${sheet.open.length === 1 ? 'it' : 'them'}, or say that ${sheet.open.length === 1 ? 'it is' : 'they are'} meant as typed.` })
  if (input.past > 0 && input.pass.trim() === '') found.push({ about: 'pass', sentence: 'Past a ceiling it is kept only with a reason.' })
  if (whole !== null && runsMoved(whole) > 0 && input.why.trim() === '') found.push({ about: 'why', sentence: 'A tune with runs, its own or of those that stand on it, is changed only with a reason.' })
  return found
}

function runsMoved({ runs, above }: TuneWhole): number {
  return above.reduce((sum, other) => sum + other.runs, runs)
}

/** What changing a tune does to what has been run and to tunes that stand on it. */
function History({ whole }: { readonly whole: TuneWhole }): ReactNode {
  const { tune, runs, starts, above } = whole
  const ran = above.filter((other) => other.runs > 0)
  if (runs === 0 && above.length === 0) return null
  return (
    <section className="notice">
      {runs === 0 ? null : (
        <>
          <p>
            {counted(runs, 'run')} in {counted(starts, 'start')} were made at this tune as it is. Changed, it would say of them what was not asked.
          </p>
          <p>
            <Link className="button button-main" to="/tunes/new" search={{ base: tune.id }}>
              Make a new tune on it
            </Link>
          </p>
        </>
      )}
      {above.length === 0 ? null : (
        <p>
          {above.map(({ name }) => name).slice(0, MOST_NAMES).join(', ')}
          {above.length > MOST_NAMES ? ` and ${above.length - MOST_NAMES} more` : ''} {above.length === 1 ? 'stands on it and moves' : 'stand on it and move'} with it
          {ran.length === 0 ? '; none of them has runs.' : `; ${counted(ran.reduce((sum, other) => sum + other.runs, 0), 'run')} of ${ran.length === 1 ? (ran[0]?.name ?? '') : `${ran.length} of them`} would be told as something else.`}
        </p>
      )}
    </section>
  )
}

const MOST_NAMES = 5

function NewKeys({ sheet, left, onLeft }: { readonly sheet: Sheet; readonly left: ReadonlySet<string>; readonly onLeft: (left: ReadonlySet<string>) => void }): ReactNode {
  if (sheet.newKeys.length === 0) return null
  return (
    <details className="more new-keys" open={sheet.newKeys.length <= FEW_KEYS}>
      <summary>{counted(left.size === 0 ? sheet.newKeys.length : sheet.newKeys.filter(({ key }) => !left.has(key)).length, 'new name')}, remembered with unit and shape</summary>
      {sheet.newKeys.map(({ key, setting, near }) => (
        <label key={key}>
          <input type="checkbox" checked={!left.has(key)} onChange={(event) => onLeft(event.currentTarget.checked ? new Set([...left].filter((other) => other !== key)) : new Set([...left, key]))} />
          <span>
            {key} <small>{kindWords(setting)}{near.length === 0 ? '' : `; the lab has ${near.join(', ')}`}</small>
          </span>
        </label>
      ))}
    </details>
  )
}

const FEW_KEYS = 4

function kindWords(setting: Setting): string {
  const { shape, unit } = kindOf(setting)
  return shape === 'mode' ? 'a name' : `${shape === 'scalar' ? 'a figure' : `a ${shape}`}${unit === '' ? ', no unit' : ` in ${unit}`}`
}

function kindOf({ key, scope, asked }: Setting): SettingKind {
  const shape = asked.shape === 'auto' || asked.shape === 'unchanged' ? 'scalar' : asked.shape
  return { kind: 'setting kind', id: newId(), name: key, shape, unit: 'unit' in asked ? asked.unit : '', level: scope.level, ...(asked.shape === 'mode' ? { modes: [asked.mode] } : {}) }
}
