// Which setting each name of a dump is: guessed, shown, set right, or left out. What needs a look comes first.
import { useId, useMemo, useState, type ReactNode } from 'react'
import type { MappedDump, MappedName } from '@guardband/model/dump/map-names'
import { counted } from '@guardband/model/figures'
import type { DumpName } from '@guardband/model/records/layout'
import type { SettingBook } from '@guardband/model/settings/setting-book'
import { Ledger } from '../../pieces/ledger.tsx'

export interface DumpNamesProps {
  readonly mapped: MappedDump
  readonly names: readonly DumpName[]
  readonly book: SettingBook
  readonly onName: (name: DumpName) => void
  readonly onNames: (names: readonly DumpName[]) => void
}

const SHOWN_AT_ONCE = 60

export function DumpNames({ mapped, names, book, onName, onNames }: DumpNamesProps): ReactNode {
  const [shown, setShown] = useState(SHOWN_AT_ONCE)
  const list = useId()
  const chosen = useMemo(() => new Map(names.map((name) => [name.name, name])), [names])
  const ordered = useMemo(() => mapped.names.toSorted((a, b) => RANK[a.by] - RANK[b.by]), [mapped])
  const tally = (by: MappedName['by']): number => mapped.names.filter((name) => name.by === by).length
  const own = mapped.names.filter(({ by }) => by === 'its own name')
  const left = names.filter(({ key }) => key === undefined).length
  return (
    <details className="more" open={mapped.layout === null || mapped.layout.new > 0}>
      <summary>
        {counted(mapped.names.length, 'name')}:{' '}
        {[[tally('remembered'), 'remembered'], [tally('own key'), "the lab's own"], [tally('near name'), 'guessed'], [own.length, 'new'], [left, 'left out']].filter(([count]) => count !== 0).map(([count, word]) => `${count} ${word}`).join(', ')}
      </summary>
      {own.length < 2 ? null : (
        <p className="doubt-acts">
          <button type="button" className="button" onClick={() => onNames(own.map(({ name }) => ({ name: name.name })))}>
            Leave out all that are new
          </button>
          <button type="button" className="button" onClick={() => onNames(own.map(({ name }) => name))}>
            Keep them under their own names
          </button>
        </p>
      )}
      <datalist id={list}>
        {book.all.slice(0, MOST_OFFERED).map(({ key }) => (
          <option key={key} value={key}>
            {key}
          </option>
        ))}
      </datalist>
      <div className="dump-names">
        <Ledger
          label="Names of the dump"
          columns={[
            { header: 'in the dump', render: ({ name }: MappedName) => <span className="breaks">{name.name}</span> },
            { header: 'value', render: ({ example, entries }: MappedName) => <><span className="figure">{example.slice(0, LONGEST_EXAMPLE)}</span>{entries === 1 ? null : <span className="soft"> and {entries - 1} more</span>}</> },
            {
              header: 'is',
              render: ({ name }: MappedName) => <KeyField name={chosen.get(name.name) ?? name} list={list} onName={onName} />,
            },
            { header: 'how', render: ({ name, by }: MappedName) => <span className="how">{chosen.get(name.name)?.key === undefined ? 'left out' : chosen.get(name.name)?.key === name.key ? HOW[by] : 'set by you'}</span> },
          ]}
          rows={ordered.slice(0, shown)}
          keyOf={({ name }) => name.name}
          quiet={({ name }) => chosen.get(name.name)?.key === undefined}
        />
      </div>
      {ordered.length <= shown ? null : (
        <button type="button" className="button-quiet" onClick={() => setShown(shown + SHOWN_AT_ONCE * 4)}>
          Show more of the other {ordered.length - shown}
        </button>
      )}
    </details>
  )
}

const RANK: Readonly<Record<MappedName['by'], number>> = { 'near name': 0, 'its own name': 1, 'own key': 2, remembered: 3 }
const HOW: Readonly<Record<MappedName['by'], string>> = { 'near name': 'guessed', 'its own name': 'new, its own name', 'own key': "the lab's own", remembered: 'remembered' }
const MOST_OFFERED = 500
const LONGEST_EXAMPLE = 40

/** Empty means left out. */
function KeyField({ name, list, onName }: { readonly name: DumpName; readonly list: string; readonly onName: (name: DumpName) => void }): ReactNode {
  return (
    <input
      aria-label={`Setting that ${name.name} is; empty leaves it out`}
      list={list}
      maxLength={200}
      value={name.key ?? ''}
      placeholder="left out"
      onChange={(event) => {
        const { key: _before, ...rest } = name
        const key = event.currentTarget.value
        onName(key.trim() === '' ? rest : { ...rest, key })
      }}
    />
  )
}
