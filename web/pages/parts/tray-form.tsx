// A tray of samples: scanned or pasted into one box, looked at line by line, entered in one change.
import { useDeferredValue, useEffect, useMemo, useRef, useState, type KeyboardEvent, type ReactNode } from 'react'
import { LONGEST_WHAT, MOST_ITEMS } from '@guardband/model/change-limits'
import { counted } from '@guardband/model/figures'
import { originSchema, pickedSchema, type Part, type Sample } from '@guardband/model/records/parts'
import { nextLabel, readTray, withoutLines, type KnownSample, type Tray, type TrayColumn, type TrayRow } from '@guardband/model/tray'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { ChoiceField, Field, TextField, type Choice } from '../../pieces/field.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { figureProblem, typedFigure } from '../../pieces/typed-figure.ts'
import { Failed } from '../../shell/states.tsx'
import type { DoneAct } from './done.tsx'
import { dayMoment, today } from './moments.ts'
import { createKeyPace, isScannersTab } from './scan-ends.ts'
import { ORIGIN_CHOICES, PICKED_CHOICES } from './status-words.ts'

export function TrayForm({ part, onClose, onDone }: { readonly part: Part; readonly onClose: () => void; readonly onDone: (act: DoneAct) => void }): ReactNode {
  const apply = useApply()
  const parts = useHub('parts')
  const currency = useHub('lab').data?.lab.currency ?? ''
  const known = useMemo(
    () => (parts.data?.rows ?? []).flatMap((row) => row.samples.map(({ sample }): KnownSample => ({ label: sample.label, serial: sample.serial, name: `${row.part.name}, ${sample.label}`, samePart: row.part.id === part.id }))),
    [parts.data, part.id],
  )
  const [text, setText] = useState('')
  const [columns, setColumns] = useState('')
  const [first, setFirst] = useState<string | null>(null)
  const [batch, setBatch] = useState('')
  const [origin, setOrigin] = useState('unknown')
  const [picked, setPicked] = useState('unknown')
  const [paid, setPaid] = useState('')
  const looked = useDeferredValue(text)
  const tray = useMemo(
    () =>
      readTray({
        text: looked, known,
        ...(columns === '' ? {} : { columns: columns.split(' ') as TrayColumn[] }), // The choices below hold names of columns only.
        ...(first === null || first.trim() === '' ? {} : { first: first.trim() }),
      }),
    [looked, known, columns, first],
  )
  const nextOne = useMemo(() => nextLabel(known.filter((sample) => sample.samePart).map((sample) => sample.label)), [known])
  const wrong = tray.rows.filter((row) => row.problems.length > 0)
  const paidProblem = figureProblem(paid, { name: 'What each cost', least: 0 })
  const tooMany = tray.rows.length > MOST_ITEMS
  const ready = looked === text && parts.data !== undefined && tray.rows.length > 0 && wrong.length === 0 && paidProblem === undefined && !tooMany && !apply.isPending
  const send = (): void => {
    if (!ready) return
    const amount = typedFigure(paid)
    const shared = {
      partId: part.id, origin: originSchema.parse(origin), picked: pickedSchema.parse(picked), status: 'bench' as const,
      ...(typeof amount === 'number' ? { paid: { amount, at: dayMoment(today(new Date())) } } : {}),
    }
    const items = tray.rows.map((row) => ({ before: null, after: sampleOf(row, batch.trim(), shared) }))
    const sentence = `Entered ${counted(items.length, 'sample')} of ${part.name}: ${labelSpan(tray.rows)}`
    apply.mutate({ what: sentence.slice(0, LONGEST_WHAT), items }, { onSuccess: (change) => onDone({ change, sentence: `${sentence}.` }) })
  }
  return (
    <section className="sheet tray" aria-labelledby="tray-title">
      <h2 id="tray-title">A tray of {part.name}</h2>
      <form
        className="form"
        onSubmit={(event) => {
          event.preventDefault()
          send()
        }}
      >
        <ScanBox text={text} onText={setText} onSend={send} />
        <div className="tray-shared">
          <TextField label="First label" hint="The others number on from it." value={first ?? nextOne} onValue={setFirst} />
          <TextField label="Batch or week code" maxLength={100} value={batch} onValue={setBatch} hint="Of lines that bring none." />
          <ChoiceField label="Where from" value={origin} choices={ORIGIN_CHOICES} onValue={setOrigin} />
          <ChoiceField label="How picked" value={picked} choices={PICKED_CHOICES} onValue={setPicked} />
          <TextField label={`What each cost${currency === '' ? '' : `, ${currency}`}`} figure value={paid} onValue={setPaid} problem={paidProblem} />
          {text.trim() === '' || tray.headed ? null : <ChoiceField label="Read as" value={columns} choices={[{ value: '', text: `as it looks: ${tray.columns.join(', ')}` }, ...COLUMN_CHOICES]} onValue={setColumns} />}
        </div>
        <TrayState tray={tray} onDropRepeats={() => setText(withoutLines(text, tray.repeats))} />
        {tooMany ? <p className="problem">A tray must have at most {MOST_ITEMS} samples; got {tray.rows.length}. Enter it in pieces.</p> : null}
        {apply.isError ? <Failed error={apply.error} /> : null}
        <div className="buttons">
          <button type="submit" className="button button-main" disabled={!ready}>
            {tray.rows.length === 0 ? 'Enter the tray' : `Enter ${counted(tray.rows.length, 'sample')}`}
          </button>
          <button type="button" className="button" onClick={onClose}>
            Leave it
          </button>
        </div>
        <Preview tray={tray} batch={batch.trim()} />
      </form>
    </section>
  )
}

/** Enter ends a line as in any text; so does the Tab that some scanners send. */
function ScanBox({ text, onText, onSend }: { readonly text: string; readonly onText: (text: string) => void; readonly onSend: () => void }): ReactNode {
  const [pace] = useState(createKeyPace)
  const box = useRef<HTMLTextAreaElement>(null)
  const lines = text.split('\n').length
  // The person has just asked for this box; a scanner needs it to have the focus.
  useEffect(() => box.current?.focus(), [])
  const onKey = (event: KeyboardEvent<HTMLTextAreaElement>): void => {
    if (event.key === 'Enter' && (event.ctrlKey || event.metaKey)) {
      event.preventDefault()
      onSend()
      return
    }
    if (event.key !== 'Tab' || event.shiftKey) {
      if (event.key.length === 1) pace.key(event.timeStamp)
      else pace.rest()
      return
    }
    if (!isScannersTab(pace.gaps())) return
    event.preventDefault()
    pace.rest()
    const { selectionStart, selectionEnd } = event.currentTarget
    event.currentTarget.setRangeText('\n', selectionStart, selectionEnd, 'end')
    onText(event.currentTarget.value)
  }
  return (
    <Field label="Serials, one a line" hint="Scan one after the other, or paste. Columns such as label, serial, batch are read too. Ctrl with Enter enters the tray.">
      {(control) => (
        <textarea
          {...control}
          ref={box}
          className="figure"
          rows={Math.min(MOST_ROWS, Math.max(FEWEST_ROWS, lines + 1))}
          spellCheck={false}
          autoCapitalize="off"
          autoComplete="off"
          value={text}
          onChange={(event) => onText(event.currentTarget.value)}
          onKeyDown={onKey}
        />
      )}
    </Field>
  )
}

function TrayState({ tray, onDropRepeats }: { readonly tray: Tray; readonly onDropRepeats: () => void }): ReactNode {
  const wrong = tray.rows.filter((row) => row.problems.length > 0).length
  const asked = tray.rows.filter((row) => row.questions.length > 0).length
  return (
    <div>
      <p role="status">
        {tray.rows.length === 0 ? <span className="soft">Nothing read yet.</span> : `${counted(tray.rows.length, 'sample')}: ${labelSpan(tray.rows)}.`}
        {wrong === 0 ? null : <strong> {counted(wrong, 'line')} must be mended.</strong>}
        {asked === 0 ? null : ` ${asked === 1 ? 'One serial looks' : `${asked} serials look`} unlike the rest: read ${asked === 1 ? 'it' : 'them'} again from the box.`}
      </p>
      {tray.repeats.length === 0 ? null : (
        <p>
          <button type="button" className="button" onClick={onDropRepeats}>
            Take out {counted(tray.repeats.length, 'repeated line')}
          </button>
        </p>
      )}
    </div>
  )
}

function Preview({ tray, batch }: { readonly tray: Tray; readonly batch: string }): ReactNode {
  const wrong = tray.rows.filter((row) => row.problems.length > 0)
  const asked = tray.rows.filter((row) => row.questions.length > 0)
  // Lines to look at come first where not all can be shown.
  const shown = tray.rows.length <= MOST_SHOWN ? tray.rows : [...new Set([...wrong, ...asked, ...tray.rows])].slice(0, MOST_SHOWN).toSorted((a, b) => a.line - b.line)
  return (
    <div className="tray-preview">
      {shown.length === 0 ? null : (
        <Ledger
            label="What would be entered"
            columns={[
              { header: 'line', align: 'number', render: (row) => row.line },
              { header: 'label', render: (row) => row.label },
              { header: 'serial', render: (row) => <span className="figure breaks">{row.serial ?? ''}</span>, empty: (row) => row.serial === undefined },
              { header: 'batch', render: (row) => row.batch ?? batch, empty: (row) => (row.batch ?? batch) === '' },
              { header: 'to look at', wide: true, render: (row) => <Remarks row={row} />, empty: (row) => row.problems.length + row.questions.length === 0 },
            ]}
            rows={shown}
            keyOf={(row) => String(row.line)}
          />
      )}
      {shown.length === tray.rows.length ? null : <p className="soft">and {tray.rows.length - shown.length} more lines with nothing to say of them.</p>}
    </div>
  )
}

function Remarks({ row }: { readonly row: TrayRow }): ReactNode {
  return (
    <>
      {row.problems.map((sentence) => (
        <p key={sentence} className="problem">
          {sentence}
        </p>
      ))}
      {row.questions.map((sentence) => (
        <p key={sentence} className="questioned">
          {sentence}
        </p>
      ))}
    </>
  )
}

function sampleOf(row: TrayRow, batch: string, shared: Pick<Sample, 'partId' | 'origin' | 'picked' | 'status' | 'paid'>): Sample {
  const own = row.batch ?? batch
  return { kind: 'sample', id: newId(), ...shared, label: row.label, ...(row.serial === undefined ? {} : { serial: row.serial }), ...(own === '' ? {} : { batch: own }) }
}

function labelSpan(rows: readonly TrayRow[]): string {
  const [first, last] = [rows[0]?.label ?? '', rows.at(-1)?.label ?? '']
  return first === last ? first : `${first} to ${last}`
}

const COLUMN_CHOICES: readonly Choice[] = ['serial', 'label', 'label serial', 'serial batch', 'label serial batch', 'serial batch label', 'batch serial'].map((value) => ({ value, text: value.replaceAll(' ', ', ') }))
const FEWEST_ROWS = 4
const MOST_ROWS = 14
const MOST_SHOWN = 100
