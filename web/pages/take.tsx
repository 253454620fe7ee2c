// Taking in a table of runs: drop, choose or paste; answer what it leaves open, correct how it is read, see what would come in, take it in; undo stands ready.
import { useState, type DragEvent, type ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import { INTAKE_LIMIT, type IntakeReply } from '@guardband/model/api'
import { counted, fixed } from '@guardband/model/figures'
import { outcomeSchema } from '@guardband/model/records/run'
import { useAct } from '../hub/queries.ts'
import { Ledger } from '../pieces/ledger.tsx'
import { Page } from '../shell/page.tsx'
import { Failed } from '../shell/states.tsx'
import { useIntake, type Busy, type Intake, type Source } from './intake-act.ts'
import { IntakeColumns } from './intake-columns.tsx'
import { IntakeMapping } from './intake-mapping.tsx'
import { IntakePreview, LeftOut, LineSum, OutcomeWords } from './intake-preview.tsx'
import { IntakeQuestions } from './intake-questions.tsx'

export function TakePage(): ReactNode {
  const intake = useIntake()
  const [tooLarge, setTooLarge] = useState<string | null>(null)
  const choose = (next: Source): void => {
    const sentence = tooLargeSentence(next)
    setTooLarge(sentence)
    if (sentence === null) intake.open(next)
  }
  const begun = intake.source !== null
  return (
    <Page crumbs={[{ text: 'Runs', to: '/runs' }, { text: 'Take in a table' }]} name="Take in a table of runs" headline="Take in a table of runs" {...(begun ? {} : { margin: <IntakeColumns /> })}>
      <DropSheet onSource={choose} paste={begun ? 'folded' : 'open'} />
      <div aria-live="polite">
        {tooLarge === null ? null : (
          <div className="notice notice-failed" role="alert">
            <p>{tooLarge}</p>
          </div>
        )}
        {intake.busy === null ? null : <Progress busy={intake.busy} file={intake.source?.file ?? 'the file'} onCancel={intake.cancel} />}
        {intake.error === null || intake.busy !== null ? null : <Failed error={intake.error} />}
      </div>
      {intake.source === null || intake.reply === null ? null : intake.reply.taken ? <Taken reply={intake.reply} /> : <Looked intake={intake} source={intake.source} reply={intake.reply} />}
    </Page>
  )
}

const DOING: Readonly<Record<Busy['what'], string>> = { sending: 'Sending', reading: 'Reading', booking: 'Drawing up the records of', writing: 'Writing' }

function Progress({ busy, file, onCancel }: { readonly busy: Busy; readonly file: string; readonly onCancel: () => void }): ReactNode {
  return (
    <div className="notice waiting intake-progress">
      <p>
        {DOING[busy.what]} {file} ...
      </p>
      <progress value={busy.done === 0 ? undefined : busy.done} max={1} aria-label={`${DOING[busy.what]} ${file}`} />
      <button type="button" className="button" onClick={onCancel}>
        Cancel
      </button>
    </div>
  )
}

function Looked({ intake, source, reply }: { readonly intake: Intake; readonly source: Source; readonly reply: IntakeReply }): ReactNode {
  if (reply.seenBefore) {
    return (
      <section className="notice">
        <p>
          All that <strong>{source.file}</strong> holds was taken in before; nothing more to do. <Link to="/runs">See the runs</Link>
        </p>
      </section>
    )
  }
  const ready = reply.questions.length === 0 && reply.problemCount === 0
  return (
    <>
      {reply.questions.length === 0 ? null : <IntakeQuestions questions={reply.questions} choices={intake.choices} onChoices={intake.look} />}
      <div className={reply.reading === null ? undefined : 'intake-two'}>
        {reply.reading === null ? null : <IntakeMapping reading={reply.reading} choices={intake.choices} onChoices={intake.look} />}
        {reply.problemCount > 0 ? <Problems reply={reply} file={source.file} /> : null}
        {ready ? <WouldComeIn intake={intake} source={source} reply={reply} /> : null}
        {ready || reply.problemCount > 0 || reply.reading === null ? null : (
          <section className="sheet">
            <h2>What is in {source.file}</h2>
            <LineSum reply={reply} />
            <LeftOut reply={reply} />
            <p className="soft">The preview stands here once the {reply.questions.length === 1 ? 'question is' : 'questions are'} answered.</p>
          </section>
        )}
      </div>
    </>
  )
}

function WouldComeIn({ intake, source, reply }: { readonly intake: Intake; readonly source: Source; readonly reply: IntakeReply }): ReactNode {
  const said = Object.keys(intake.choices).length > 0
  const [remember, setRemember] = useState(true)
  const [name, setName] = useState(reply.reading?.layout ?? source.file.replace(/\.[^.]*$/, ''))
  return (
    <section className="sheet">
      <h2>What is in {source.file}</h2>
      <Summary reply={reply} />
      <OutcomeWords reply={reply} choices={intake.choices} outcomes={[...outcomeSchema.options, 'not run']} onChoices={intake.look} />
      <IntakePreview reply={reply} />
      {said ? (
        <fieldset className="choices intake-remember">
          <label>
            <input type="checkbox" checked={remember} onChange={(event) => setRemember(event.currentTarget.checked)} /> Read tables with these headers like this from now on
          </label>
          {remember ? (
            <div className="field">
              <label htmlFor="intake-layout">Name of the layout</label>
              <input id="intake-layout" value={name} maxLength={200} onChange={(event) => setName(event.currentTarget.value)} />
            </div>
          ) : null}
        </fieldset>
      ) : null}
      <div className="buttons">
        <button type="button" className="button button-main" disabled={intake.busy !== null} onClick={() => intake.take(said && remember && name.trim() !== '' ? name.trim() : null)}>
          {reply.summary.starts === 0 ? 'Take in what it says more' : `Take in ${counted(reply.summary.runs, 'run')}`}
        </button>
      </div>
    </section>
  )
}

/** The hub would refuse it after all of it was sent; so it is said before. */
function tooLargeSentence({ file, text }: Source): string | null {
  const size = typeof text === 'string' ? new Blob([text]).size : text.size
  if (size <= INTAKE_LIMIT) return null
  const [has, most] = [size, INTAKE_LIMIT].map((bytes) => fixed(Math.ceil((bytes / BYTES_PER_MB) * 10) / 10, 1))
  return `${file} has ${has} MB; at most ${most} MB can be taken in at once. Split it by starts, headers first in each piece, and take in the pieces one after the other. Nothing was sent.`
}

const BYTES_PER_MB = 1024 * 1024

function DropSheet({ onSource, paste }: { readonly onSource: (source: Source) => void; readonly paste: 'open' | 'folded' }): ReactNode {
  const [over, setOver] = useState(false)
  const hover = (event: DragEvent, now: boolean): void => {
    event.preventDefault()
    setOver(now)
  }
  return (
    <section
      className={over ? 'sheet intake-drop intake-drop-over' : 'sheet intake-drop'}
      onDragOver={(event) => hover(event, true)}
      onDragLeave={(event) => hover(event, false)}
      onDrop={(event) => {
        hover(event, false)
        const file = event.dataTransfer.files[0]
        if (file !== undefined) onSource({ file: file.name, text: file })
      }}
    >
      <div className="form">
        <div className="field">
          <label htmlFor="runs-file">Drop a table here, or choose one</label>
          <input
            id="runs-file"
            type="file"
            accept=".csv,.tsv,.tab,.txt,text/csv,text/plain,text/tab-separated-values"
            onChange={(event) => {
              const file = event.currentTarget.files?.[0]
              if (file !== undefined) onSource({ file: file.name, text: file })
              // The same file may be chosen again once it has been mended.
              event.currentTarget.value = ''
            }}
          />
        </div>
        {paste === 'open' ? (
          <PasteForm onSource={onSource} />
        ) : (
          <details className="more">
            <summary>Paste cells instead</summary>
            <PasteForm onSource={onSource} />
          </details>
        )}
      </div>
    </section>
  )
}

function PasteForm({ onSource }: { readonly onSource: (source: Source) => void }): ReactNode {
  return (
    <form
      className="field"
      onSubmit={(event) => {
        event.preventDefault()
        const text = new FormData(event.currentTarget).get('text')
        // What is copied seldom has its last line end; a file without one may be cut off.
        if (typeof text === 'string' && text.trim() !== '') onSource({ file: 'pasted', text: text.endsWith('\n') ? text : `${text}\n` })
      }}
    >
      <label htmlFor="runs-text">Or paste cells from a spreadsheet, headers first</label>
      <textarea id="runs-text" name="text" rows={4} className="figure" spellCheck={false} required />
      <div className="buttons">
        <button type="submit" className="button">
          Look at what I pasted
        </button>
      </div>
    </form>
  )
}

function Problems({ reply, file }: { readonly reply: IntakeReply; readonly file: string }): ReactNode {
  const shown = reply.problems.length
  return (
    <section className="sheet">
      <h2>
        {counted(reply.problemCount, 'problem')} in {file}; nothing was taken in
      </h2>
      <LineSum reply={reply} />
      <p>Correct how it is read, or mend the file and choose it again: it is taken in whole or not at all.{shown < reply.problemCount ? ` The first ${fixed(shown, 0)}:` : ''}</p>
      <Ledger
        label="Problems"
        columns={[
          { header: 'line', align: 'number', render: (problem) => (problem.line === null ? 'file' : fixed(problem.line, 0)) },
          { header: 'column', render: (problem) => problem.column ?? '' , empty: (problem) => problem.column === null },
          { header: 'what is wrong, and the mend', wide: true, render: (problem) => withoutPlace(problem.sentence, file) },
        ]}
        rows={reply.problems}
        keyOf={(problem) => `${problem.line}|${problem.column}|${problem.sentence}`}
      />
    </section>
  )
}

/** Line and column have columns of their own; the sentence need not repeat them. */
function withoutPlace(sentence: string, file: string): string {
  if (!sentence.startsWith(`${file}, line `)) return sentence
  const rest = sentence.slice(sentence.indexOf(': ', file.length) + 2)
  return rest.charAt(0).toUpperCase() + rest.slice(1)
}

function Summary({ reply }: { readonly reply: IntakeReply }): ReactNode {
  const { summary } = reply
  const news = [
    { what: 'new parts', names: summary.newParts },
    { what: 'new samples', names: summary.newSamples },
    { what: 'new tunes', names: summary.newTunes },
    { what: 'new workloads', names: summary.newWorkloads },
  ].filter((entry) => entry.names.length > 0)
  return (
    <>
      <p>
        {counted(summary.runs, 'run')} in {counted(summary.starts, 'start')}, from {counted(reply.lines, 'line')}.
      </p>
      <LineSum reply={reply} />
      <LeftOut reply={reply} />
      {reply.remarks.map((remark) => <p key={remark}>{remark}</p>)}
      {news.length === 0 ? (
        <p className="soft">All parts, samples, tunes and workloads in it are known here already.</p>
      ) : (
        <>
          <dl className="facts">
            {news.map((entry) => (
              <div key={entry.what}>
                <dt>{entry.what}</dt>
                <dd>{entry.names.join(', ')}</dd>
              </div>
            ))}
          </dl>
          <p className="hint">A name spelt in two ways makes two of a thing. Look for that now.</p>
        </>
      )}
    </>
  )
}

function Taken({ reply }: { readonly reply: IntakeReply }): ReactNode {
  const undo = useAct('undo')
  return (
    <section className="sheet">
      <h2>Taken in</h2>
      <Summary reply={reply} />
      {undo.isError ? <Failed error={undo.error} /> : null}
      {undo.isSuccess ? (
        <p role="status">Taken back. The change log keeps both entries.</p>
      ) : (
        <div className="buttons">
          <Link className="button button-main" to="/questions/ask">
            Ask a question
          </Link>
          <Link className="button" to="/runs">
            See the runs
          </Link>
          {reply.change === null ? null : (
            <button type="button" className="button" disabled={undo.isPending} onClick={() => undo.mutate({ params: { seq: String(reply.change) }, input: { why: '' } })}>
              Undo
            </button>
          )}
        </div>
      )}
    </section>
  )
}
