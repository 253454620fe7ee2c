// Runs as a ledger, start by start: what held for the whole start stands once above its runs, each of which takes one line.
import { memo, useMemo, type ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { RunRow } from '@guardband/model/api'
import { keepTogether } from '@guardband/questions/visible-text'
import { readingText } from '../pieces/amounts.ts'
import { OutcomeMark } from '../pieces/outcome-mark.tsx'
import { ScrollFrame } from '../pieces/scroll-frame.tsx'
import { useNarrow } from '../pieces/use-narrow.ts'
import { Unbroken } from '../pieces/unbroken.tsx'
import { ClockTime } from '../pieces/when.tsx'
import { runDecimals, type RunDecimals } from './run-decimals.ts'
import { runGroups, type RunGroup } from './run-groups.ts'
import { useRunKeys } from './use-run-keys.ts'

export interface RunChoice {
  readonly chosen: ReadonlySet<string>
  readonly onChoose: (rows: readonly RunRow[], to: 'chosen' | 'not chosen') => void
  readonly onOpen: (row: RunRow) => void
  /** The keys went on past the last run, or back before the first. */
  readonly onBeyond: (way: 'on' | 'back') => void
}

export function RunLedger({ rows, choice, within, here }: {
  readonly rows: readonly RunRow[]
  readonly choice?: RunChoice
  /** All of one start, which is said above already. */
  readonly within?: 'one start'
  /** The run whose page this is. */
  readonly here?: string
}): ReactNode {
  const narrow = useNarrow()
  const keys = useRunKeys(rows, choice)
  const decimals = useMemo(() => runDecimals(rows), [rows])
  const columns = [...(choice === undefined ? [] : [CHOOSE]), ...(narrow ? ['workload', 'measured'] : ['workload', 'outcome', 'measured', 'at, UTC'])]
  return (
    <ScrollFrame label="Runs">
      <table className="ledger run-ledger" {...keys.onTable}>
        <caption className="unseen">{within === undefined ? 'Runs by start, newest first' : 'Runs of this start, in their order'}</caption>
        <thead>
          <tr>
            {columns.map((column) => (
              <th key={column} scope="col" className={column === CHOOSE ? 'choose' : column === 'measured' || column === 'at, UTC' ? 'n' : undefined}>
                {column === CHOOSE ? <span className="unseen">chosen</span> : column}
              </th>
            ))}
          </tr>
        </thead>
        {runGroups(rows).map((group) => (
          <tbody key={group.rows[0].id}>
            {within === undefined ? (
              <tr className="run-group">
                <th scope="rowgroup" colSpan={columns.length}>
                  <StartLine group={group} keyboard={choice === undefined ? 'reached' : 'left out'} />
                </th>
              </tr>
            ) : null}
            {group.rows.map((row) => (
              <RunLine key={row.id} row={row} decimals={decimals} narrow={narrow} here={row.id === here} keyboard={choice === undefined ? 'reached' : 'left out'} {...(choice === undefined ? {} : { chosen: choice.chosen.has(row.id), reached: keys.reached === row.id })} />
            ))}
          </tbody>
        ))}
      </table>
    </ScrollFrame>
  )
}

const CHOOSE = 'choose'

/** Where the arrow keys go from run to run, one stop for the Tab key is enough: links in the list leave it out. */
type Keyboard = 'reached' | 'left out'

const RunLine = memo(function RunLine({ row, decimals, narrow, here, chosen, reached, keyboard }: { readonly row: RunRow; readonly decimals: RunDecimals; readonly narrow: boolean; readonly here: boolean; readonly chosen?: boolean; readonly reached?: boolean; readonly keyboard: Keyboard }): ReactNode {
  return (
    <tr className={`${row.setAside === null ? 'run' : 'run quiet'}${here ? ' run-here' : ''}${chosen === true ? ' run-chosen' : ''}`} {...(here ? { 'aria-current': 'true' } : {})}>
      {chosen === undefined ? null : (
        <td className="choose">
          <input type="checkbox" data-run={row.id} checked={chosen} readOnly tabIndex={reached === true ? 0 : -1} aria-label={`${row.workload}, ${row.sample}, ${row.startLabel}`} />
        </td>
      )}
      <th scope="row">
        {here ? (
          <b>{row.workload}</b>
        ) : (
          <Link to="/runs/$id" params={{ id: row.id }} className="plain-link" {...(keyboard === 'reached' ? {} : { tabIndex: -1 })}>
            {row.workload}
          </Link>
        )}
        {narrow && hasMoreToSay(row) ? <Ending row={row} /> : null}
      </th>
      {narrow ? null : (
        <td>
          <Ending row={row} />
        </td>
      )}
      <td className="n">
        {row.measures.map((measure) => (
          <span key={measure.name} className="reading" title={measure.name}>
            {readingText(measure.value, measure.unit, decimals(row.workload, measure))}
          </span>
        ))}
      </td>
      {narrow ? null : <td className="n">{row.at === null ? null : <ClockTime at={row.at} />}</td>}
    </tr>
  )
})

function StartLine({ group, keyboard }: { readonly group: RunGroup; readonly keyboard: Keyboard }): ReactNode {
  const { startId, startLabel, sample, rig } = group
  return (
    <>
      <b>
        <Link to="/starts/$id" params={{ id: startId }} className="plain-link" {...(keyboard === 'reached' ? {} : { tabIndex: -1 })}>
          <Unbroken text={keepTogether(startLabel)} />
        </Link>
      </b>
      <span className="run-facts">
        <span>
          <Unbroken text={sample} />
        </span>
        <span>{rig}</span>
        <span>
          <InForce group={group} />
        </span>
      </span>
    </>
  )
}

function InForce({ group: { startLabel, tune, asked, known } }: { readonly group: RunGroup }): ReactNode {
  const askedElse = asked !== null && asked !== tune ? `, asked: ${asked}` : ''
  if (tune === null) {
    return (
      <>
        <strong>in force: none that is known</strong>
        {askedElse}
      </>
    )
  }
  // The start's name holds what was asked; a second time it would only be long.
  if (asked === tune && startLabel.includes(tune)) return `in force as asked (${known})`
  return keepTogether(`in force: ${tune} (${known})${askedElse}`)
}

function Ending({ row }: { readonly row: RunRow }): ReactNode {
  return (
    <span className="ending">
      <OutcomeMark outcome={row.outcome} />
      {row.place === null ? null : <span className="soft"> {row.place}</span>}
      {row.setAside === null ? null : <small className="set-aside">set aside: {row.setAside}</small>}
    </span>
  )
}

/** A run with a reading and nothing else to tell was scored: on a narrow page its reading says so. */
function hasMoreToSay(row: RunRow): boolean {
  return row.outcome !== 'scored' || row.place !== null || row.setAside !== null || row.measures.length === 0
}
