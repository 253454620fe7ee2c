// Runs as a ledger, start by start: what held for the whole start stands once above its runs, each of which takes one line.
import { Fragment, type ReactNode } from 'react'
import type { RunRow } from '@guardband/model/api'
import { keepTogether } from '@guardband/questions/visible-text'
import { readingText } from '../pieces/amounts.ts'
import { OutcomeMark } from '../pieces/outcome-mark.tsx'
import { ScrollFrame } from '../pieces/scroll-frame.tsx'
import { useNarrow } from '../pieces/use-narrow.ts'
import { ClockTime } from '../pieces/when.tsx'
import { runGroups, type RunGroup } from './run-groups.ts'

export function RunLedger({ rows, onKeep }: { readonly rows: readonly RunRow[]; readonly onKeep?: (row: RunRow) => void }): ReactNode {
  const narrow = useNarrow()
  const columns = [...(narrow ? ['workload', 'measured'] : ['workload', 'outcome', 'measured', 'at, UTC']), ...(onKeep === undefined ? [] : ['in answers'])]
  return (
    <ScrollFrame label="Runs">
      <table className="ledger run-ledger">
        <caption className="unseen">Runs by start, newest first</caption>
        <thead>
          <tr>
            {columns.map((column) => (
              <th key={column} scope="col" className={column === 'measured' || column === 'at, UTC' ? 'n' : undefined}>
                {column}
              </th>
            ))}
          </tr>
        </thead>
        {runGroups(rows).map((group) => (
          <tbody key={group.rows[0].id}>
            <tr className="run-group">
              <th scope="rowgroup" colSpan={columns.length}>
                <StartLine group={group} />
              </th>
            </tr>
            {group.rows.map((row) => (
              <tr key={row.id} className={row.setAside === null ? 'run' : 'run quiet'}>
                <th scope="row">
                  {row.workload}
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
                      {readingText(measure.value, measure.unit)}
                    </span>
                  ))}
                </td>
                {narrow ? null : <td className="n">{row.at === null ? null : <ClockTime at={row.at} />}</td>}
                {onKeep === undefined ? null : (
                  <td>
                    <KeepButton row={row} onKeep={onKeep} />
                  </td>
                )}
              </tr>
            ))}
          </tbody>
        ))}
      </table>
    </ScrollFrame>
  )
}

function StartLine({ group }: { readonly group: RunGroup }): ReactNode {
  const { startLabel, sample, rig } = group
  return (
    <>
      <b>
        <Unbroken text={keepTogether(startLabel)} />
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

/** Labels with a hyphen stay in one piece: Q14-07 is a name, not two words. */
function Unbroken({ text }: { readonly text: string }): ReactNode {
  return text.split(' ').map((word, index) => (
    // Words have no identity of their own; their order is it.
    <Fragment key={`${index}:${word}`}>
      {index > 0 ? ' ' : null}
      {word.includes('-') && word.length <= LONGEST_UNBROKEN ? <span className="unbroken">{word}</span> : word}
    </Fragment>
  ))
}

/** A longer word may be wider than a narrow page. */
const LONGEST_UNBROKEN = 24

function KeepButton({ row, onKeep }: { readonly row: RunRow; readonly onKeep: (row: RunRow) => void }): ReactNode {
  const words = row.setAside === null ? 'Set aside' : 'Bring back'
  return (
    <button type="button" className="button-quiet" onClick={() => onKeep(row)} aria-label={`${words}: ${row.workload}, ${row.sample}, ${row.startLabel}`}>
      {words}
    </button>
  )
}
