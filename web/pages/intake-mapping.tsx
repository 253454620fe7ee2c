// How the file is read, column by column and as a whole: guessed or remembered, shown, and corrected here.
import { useId, type ReactNode } from 'react'
import { GIVEN_FIELDS, TABLE_ROLES, type IntakeChoices, type TableReading } from '@guardband/model/api'
import { ChoiceField } from '../pieces/field.tsx'
import { Ledger } from '../pieces/ledger.tsx'

type ReadColumn = TableReading['columns'][number]

export function IntakeMapping({ reading, choices, onChoices }: { readonly reading: TableReading; readonly choices: IntakeChoices; readonly onChoices: (choices: IntakeChoices) => void }): ReactNode {
  const change = (index: number, next: Partial<ReadColumn>): void =>
    onChoices({ ...choices, columns: reading.columns.map(({ first: _first, ...column }, place) => (place === index ? withoutEmpty({ ...column, ...next }) : column)) })
  const rows = reading.columns.map((column, index) => ({ column, index }))
  return (
    <section className="sheet intake-mapping">
      <h2>What each column is</h2>
      <p className="soft">{reading.layout === null ? 'Guessed from the headers and first lines. Correct what is wrong.' : `Read by the remembered layout "${reading.layout}". Correct what is wrong.`}</p>
      <Ledger
        label="Columns of the file"
        rows={rows}
        keyOf={({ index }) => String(index)}
        quiet={({ column }) => column.as === 'left out'}
        columns={[
          { header: 'header', render: ({ column }) => (column.header === '' ? '(empty)' : column.header) },
          { header: 'first values', render: ({ column }) => <span className="figure soft">{column.first.filter((cell) => cell !== '').join(', ')}</span> },
          { header: 'is', render: ({ column, index }) => <RoleChoice column={column} onRole={(as) => change(index, as === 'measure' ? { as } : { as, workload: '', measure: '', tune: '', sample: '', part: '' })} /> },
          {
            header: 'of',
            wide: true,
            empty: ({ column }) => column.as !== 'measure' && column.as !== 'value',
            render: ({ column, index }) => (column.as === 'measure' || column.as === 'value' ? <Values key={JSON.stringify(column)} column={column} onChange={(next) => change(index, next)} /> : null),
          },
        ]}
      />
      <details className="more">
        <summary>How the file as a whole is read</summary>
        <WholeFile reading={reading} choices={choices} onChoices={onChoices} />
      </details>
    </section>
  )
}

function withoutEmpty(column: Partial<ReadColumn>): NonNullable<IntakeChoices['columns']>[number] {
  // Only texts that were emptied are dropped; header and role are never among them.
  return Object.fromEntries(Object.entries(column).filter(([key, value]) => key === 'header' || value !== '')) as NonNullable<IntakeChoices['columns']>[number]
}

const ROLE_TEXTS: Readonly<Partial<Record<string, string>>> = { measure: 'values, as its header says', value: 'values', 'measure name': 'name of the measure', clock: 'time of day', time: 'date and time', seconds: 'how long it took' }

function RoleChoice({ column, onRole }: { readonly column: ReadColumn; readonly onRole: (as: string) => void }): ReactNode {
  return (
    <select aria-label={`What the column ${column.header} is`} value={column.as} onChange={(event) => onRole(event.currentTarget.value)}>
      {TABLE_ROLES.map((role) => (
        <option key={role} value={role}>
          {ROLE_TEXTS[role] ?? role}
        </option>
      ))}
    </select>
  )
}

function Values({ column, onChange }: { readonly column: ReadColumn; readonly onChange: (next: Partial<ReadColumn>) => void }): ReactNode {
  const shown = column.as === 'measure' ? (['workload', 'measure', 'unit', ...(['tune', 'sample', 'part'] as const).filter((field) => column[field] !== undefined)] as const) : (['unit'] as const)
  return (
    <span className="intake-values">
      {shown.map((field) => (
        <CommittedText key={field} label={field} of={column.header} value={column[field] ?? ''} onCommit={(value) => onChange({ [field]: value })} />
      ))}
      {column.repeat === undefined ? null : <span className="soft">repeat {column.repeat}</span>}
    </span>
  )
}

/** Takes effect when it is left, or on Enter: each letter would read the file anew. */
function CommittedText({ label, of, value, onCommit }: { readonly label: string; readonly of: string; readonly value: string; readonly onCommit: (value: string) => void }): ReactNode {
  const id = useId()
  const commit = (text: string): void => {
    if (text.trim() !== value) onCommit(text.trim())
  }
  return (
    <span className="intake-value">
      <label htmlFor={id}>
        {label}
        <span className="unseen"> of {of}</span>
      </label>
      <input
        id={id}
        defaultValue={value}
        maxLength={label === 'unit' ? 20 : 200}
        onBlur={(event) => commit(event.currentTarget.value)}
        onKeyDown={(event) => {
          if (event.key === 'Enter') commit(event.currentTarget.value)
        }}
      />
    </span>
  )
}

function WholeFile({ reading, choices, onChoices }: { readonly reading: TableReading; readonly choices: IntakeChoices; readonly onChoices: (choices: IntakeChoices) => void }): ReactNode {
  const choice = (field: 'encoding' | 'separator' | 'decimal' | 'thousands' | 'dates' | 'starts', label: string, options: readonly (readonly [value: string, text: string])[]): ReactNode => (
    <ChoiceField
      label={label}
      value={reading[field] ?? ''}
      choices={[...(reading[field] === null ? [{ value: '', text: 'not needed' }] : []), ...options.map(([value, text]) => ({ value, text }))]}
      onValue={(value) => onChoices({ ...choices, [field]: value })}
    />
  )
  return (
    <div className="form">
      <div className="row-field-set">
        {choice('encoding', 'Encoding', [['utf-8', 'UTF-8'], ['utf-16le', 'UTF-16, low byte first'], ['utf-16be', 'UTF-16, high byte first'], ['windows-1252', 'windows-1252']])}
        {choice('separator', 'Between columns', [[',', 'comma'], [';', 'semicolon'], ['\t', 'tab'], ['|', 'bar']])}
        {choice('decimal', 'Before decimals', [['.', 'point'], [',', 'comma']])}
        {choice('thousands', 'Between thousands', [['none', 'nothing'], [',', 'comma'], ['.', 'point'], [' ', 'space'], ["'", 'apostrophe']])}
        {choice('dates', 'Dates', [['year first', 'year first'], ['day first', 'day first'], ['month first', 'month first']])}
        {choice('starts', 'One start is', [['each sample and tune', 'all of a sample at a tune'], ['each line', 'each line'], ['each repeat', 'each repeat'], ['whole file', 'all of a sample in the file']])}
      </div>
      <fieldset className="choices">
        <legend>For all lines, where the file does not say it</legend>
        <span className="intake-values">
          {GIVEN_FIELDS.map((field) => (
            <CommittedText
              key={`${field} ${reading.given[field] ?? ''}`}
              label={field}
              of="all lines"
              value={reading.given[field] ?? ''}
              onCommit={(value) => {
                const { [field]: _before, ...rest } = choices.given ?? {}
                onChoices({ ...choices, given: value === '' ? rest : { ...rest, [field]: value } })
              }}
            />
          ))}
        </span>
      </fieldset>
    </div>
  )
}
