// What is next by hand, and what a person should look at.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { ToDo } from '@guardband/model/api/runs'
import { counted } from '@guardband/model/figures'
import { Day } from '../pieces/when.tsx'
import { MarginNote } from '../shell/page.tsx'

/** "Next on north bench: start 7 of 24." Nothing where no sheet is open. */
export function nextSentence({ sheets }: ToDo): string {
  const [sheet, ...more] = sheets
  if (sheet === undefined) return ''
  const rest = more.length === 0 ? '' : `; ${counted(more.length, 'more sheet is', 'more sheets are')} open`
  return `Next on ${sheet.rig}: start ${sheet.next.place} of ${sheet.of}${rest}.`
}

export function OpenSheets({ sheets }: { readonly sheets: ToDo['sheets'] }): ReactNode {
  if (sheets.length === 0) return null
  return (
    <section className="sheet">
      <h2>Next by hand</h2>
      <ul className="slips">
        {sheets.map((sheet) => (
          <li key={sheet.id}>
            <p className="slip-title">
              {sheet.name}, {sheet.rig}
            </p>
            <p className="slip-sentence">
              <Link to="/runs/enter" search={{ sheet: sheet.id }}>
                {startText(sheet)}
              </Link>
            </p>
            <p className="slip-settle">
              {sheet.done} of {counted(sheet.of, 'start')} done
              {sheet.next.begun ? `; ${counted(sheet.next.runsLeft, 'run')} of this one still to come` : ''}.
            </p>
          </li>
        ))}
      </ul>
    </section>
  )
}

function startText({ next, of }: ToDo['sheets'][number]): string {
  if (next.begun) return `Go on with start ${next.place} of ${of}, at ${next.tune}`
  const swap = next.putIn.length === 0 ? '' : `put in ${next.putIn.join(' and ')}, `
  return `Start ${next.place} of ${of}: ${swap}set ${next.tune}, ${next.how} start`
}

/** Said in the margin: nothing of it stops the work. */
export function NeedsPerson({ todo }: { readonly todo: ToDo }): ReactNode {
  const { wet, quarantined, unsure, setAside, lastBackup, backupDue } = todo
  if (wet.length === 0 && quarantined.length === 0 && unsure.total === 0 && setAside === 0 && !backupDue) return null
  return (
    <MarginNote title="To look at" {...(wet.length > 0 || quarantined.length > 0 || unsure.total > 0 ? { tone: 'warns' as const } : {})}>
      <ul className="to-look">
        {wet.map(({ id, name }) => (
          <li key={id}>
            <Link to="/samples/$id" params={{ id }}>
              {name}
            </Link>{' '}
            is wet: locked until it was dried and looked at.
          </li>
        ))}
        {quarantined.map(({ id, name, reason }) => (
          <li key={id}>
            <Link to="/samples/$id" params={{ id }}>
              {name}
            </Link>{' '}
            went into quarantine: {reason}
          </li>
        ))}
        {unsure.starts.map(({ id, name, why }) => (
          <li key={id}>
            <Link to="/starts/$id" params={{ id }}>
              {name}
            </Link>
            : {why}.
          </li>
        ))}
        {unsure.total > unsure.starts.length ? <li>{counted(unsure.total - unsure.starts.length, 'more start')} of the last week like these.</li> : null}
        {setAside === 0 ? null : (
          <li>
            <Link to="/runs" search={{ outcome: 'set aside' }}>
              {counted(setAside, 'run is', 'runs are')} set aside
            </Link>
            .
          </li>
        )}
        {backupDue ? (
          <li>
            {lastBackup === null ? 'No backup has been made.' : (
              <>
                The last backup is of <Day at={lastBackup} />.
              </>
            )}{' '}
            <Link to="/lab/keep">Make one</Link>
          </li>
        ) : null}
      </ul>
    </MarginNote>
  )
}
