// Keep and move: backups, everything as a file, a workspace from such a file, and the check.
import type { ReactNode } from 'react'
import { exportPath } from '@guardband/model/api/moving'
import { counted } from '@guardband/model/figures'
import type { RouteOut } from '../hub/client.ts'
import { useAct, useHub } from '../hub/queries.ts'
import { byteText } from '../pieces/byte-text.ts'
import { When } from '../pieces/when.tsx'
import { MarginNote } from '../shell/page.tsx'
import { Failed, Loaded } from '../shell/states.tsx'
import { OpenExport } from './keep-open.tsx'
import { LabFrame } from './lab/lab-frame.tsx'

export function KeepPage(): ReactNode {
  const moving = useHub('moving')
  const last = moving.data?.lastBackup
  return (
    <LabFrame
      name="Keep and move"
      headline={last === undefined ? 'Keep and move' : last === null ? 'This workspace has no backup yet.' : <>Last backup: <When at={last.at} />.</>}
      margin={
        <>
          <MarginNote title="A backup is a workspace">
            <p>It is a folder like this one, made while work goes on, opened and compared before it counts. Nothing is ever written over.</p>
          </MarginNote>
          <MarginNote title="On the same disk?">
            <p>Then it helps against mistakes, not against the disk. From a terminal it goes where you say:</p>
            <pre>npx guardband backup FOLDER</pre>
          </MarginNote>
        </>
      }
    >
      <Loaded query={moving} what="the last backup">
        {({ lastBackup, missingFiles }) => (
          <>
            {missingFiles === 0 ? null : (
              <div className="notice">
                <p>
                  {counted(missingFiles, 'file')} that the records name {missingFiles === 1 ? 'is' : 'are'} not here. After an import of records alone that is so: pictures, files, reports and journals come with an archive only. Otherwise put them back from a copy; the check below names them.
                </p>
              </div>
            )}
            <Backup last={lastBackup} />
          </>
        )}
      </Loaded>
      <Downloads />
      <OpenExport />
      <Check />
    </LabFrame>
  )
}

function Backup({ last }: { readonly last: RouteOut<'moving'>['lastBackup'] }): ReactNode {
  const backup = useAct('backup')
  return (
    <section>
      <h2>Back it up</h2>
      {last === null ? <p>A copy goes beside the workspace, into a folder of its own named by day and time.</p> : <p className="breaks">The last one lies in <span className="figure">{last.folder}</span>.</p>}
      <div className="buttons">
        <button type="button" className={last === null ? 'button button-main' : 'button'} disabled={backup.isPending} onClick={() => backup.mutate({})}>
          {backup.isPending ? 'Copying and comparing ...' : 'Back it up now'}
        </button>
      </div>
      {backup.isError ? <Failed error={backup.error} /> : null}
      {backup.data === undefined || backup.isPending ? null : (
        <div className="notice keep-done" role="status">
          <p className="breaks">
            Copied, opened and compared: {counted(backup.data.changes, 'change')} and {counted(backup.data.files, 'file')} ({byteText(backup.data.bytes)}), in <span className="figure">{backup.data.folder}</span>.
          </p>
          <Findings findings={backup.data.findings} title="The check finds the same amiss in it as in the workspace:" />
        </div>
      )}
    </section>
  )
}

function Downloads(): ReactNode {
  return (
    <section>
      <h2>Everything as a file</h2>
      <dl className="facts index keep-forms">
        {FORMS.map(({ form, text, says }) => (
          <div key={form}>
            <dt>
              <a href={exportPath(form)} download>
                {text}
              </a>
            </dt>
            <dd>{says}</dd>
          </div>
        ))}
      </dl>
    </section>
  )
}

const FORMS = [
  { form: 'archive', text: 'Archive (.zip)', says: 'The whole workspace: records, change log, pictures and files, journals, reports. For another machine, or for the shelf.' },
  { form: 'json', text: 'Records as JSON', says: 'Every record in one file, without the change log, pictures, files, journals and reports. For programs.' },
  { form: 'csv', text: 'Records as CSV (.zip)', says: 'A table a kind of record, and all runs with names instead of ids. For spreadsheets; no cell is run as a formula.' },
] as const

function Check(): ReactNode {
  const check = useAct('check')
  return (
    <section>
      <h2>Is everything sound?</h2>
      <p>Holds records, change log, journals, reports, pictures and files against each other and against their hashes. Nothing is changed by it.</p>
      <div className="buttons">
        <button type="button" className="button" disabled={check.isPending} onClick={() => check.mutate({})}>
          {check.isPending ? 'Checking ...' : 'Check it'}
        </button>
      </div>
      {check.isError ? <Failed error={check.error} /> : null}
      {check.data === undefined || check.isPending ? null : check.data.findings.length === 0 ? (
        <div className="notice keep-done" role="status">
          <p>Nothing amiss.</p>
        </div>
      ) : (
        <div className="notice notice-failed keep-done" role="alert">
          <Findings findings={check.data.findings} title={`${counted(check.data.findings.length, 'thing is', 'things are')} amiss:`} />
        </div>
      )}
    </section>
  )
}

function Findings({ findings, title }: { readonly findings: RouteOut<'check'>['findings']; readonly title: string }): ReactNode {
  if (findings.length === 0) return null
  return (
    <>
      <p>{title}</p>
      <ul className="plain">
        {findings.slice(0, MOST_SHOWN).map(({ place, sentence }) => (
          <li key={`${place} ${sentence}`} className="breaks">
            <span className="figure">{place}</span>: {sentence}
          </li>
        ))}
      </ul>
      {findings.length > MOST_SHOWN ? <p>And {findings.length - MOST_SHOWN} more; &quot;npx guardband check&quot; lists them all.</p> : null}
    </>
  )
}

const MOST_SHOWN = 20
