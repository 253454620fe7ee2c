// Taking in a file of runs: choose or paste, see what is in it and what is wrong with it, then take it in; undo stands ready.
import { useState, type ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import { INTAKE_LIMIT, type IntakeReply } from '@guardband/model/api'
import { counted, fixed } from '@guardband/model/figures'
import { useAct } from '../hub/queries.ts'
import { Ledger } from '../pieces/ledger.tsx'
import { Page } from '../shell/page.tsx'
import { Failed } from '../shell/states.tsx'
import { IntakeColumns } from './intake-columns.tsx'

interface Source {
  readonly file: string
  readonly text: Blob | string
}

export function TakePage(): ReactNode {
  const [source, setSource] = useState<Source | null>(null)
  const intake = useAct('intake')
  const [tooLarge, setTooLarge] = useState<string | null>(null)
  const look = (next: Source): void => {
    const sentence = tooLargeSentence(next)
    setTooLarge(sentence)
    setSource(sentence === null ? next : null)
    if (sentence !== null) return
    intake.mutate({ input: { file: next.file, only: 'preview' }, text: next.text })
  }
  return (
    <Page crumbs={[{ text: 'Runs', to: '/runs' }, { text: 'Take in a file' }]} name="Take in a file of runs" headline="Take in a file of runs" margin={<IntakeColumns />}>
      <section className="sheet">
        <Chooser onSource={look} />
      </section>
      <div aria-live="polite">
        {tooLarge === null ? null : (
          <div className="notice notice-failed" role="alert">
            <p>{tooLarge}</p>
          </div>
        )}
        {intake.isPending ? <p className="waiting">Reading {source?.file ?? 'the file'} ...</p> : null}
        {intake.isError && source !== null ? <Failed error={intake.error} /> : null}
        {intake.data === undefined || source === null || intake.isPending ? null : intake.data.taken ? (
          <Taken reply={intake.data} />
        ) : (
          <Preview reply={intake.data} file={source.file} onTake={() => intake.mutate({ input: { file: source.file, only: 'take' }, text: source.text })} />
        )}
      </div>
    </Page>
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

function Chooser({ onSource }: { readonly onSource: (source: Source) => void }): ReactNode {
  return (
    <div className="form">
      <div className="field">
        <label htmlFor="runs-file">A CSV file</label>
        <input
        id="runs-file"
        type="file"
        accept=".csv,.tsv,.txt,text/csv,text/plain"
        onChange={(event) => {
          const file = event.currentTarget.files?.[0]
          if (file !== undefined) onSource({ file: file.name, text: file })
          // The same file may be chosen again once it has been mended.
          event.currentTarget.value = ''
        }}
        />
      </div>
      <form
        className="field"
        onSubmit={(event) => {
          event.preventDefault()
          const text = new FormData(event.currentTarget).get('text')
          // What is copied seldom has its last line end; a file without one may be cut off.
          if (typeof text === 'string' && text.trim() !== '') onSource({ file: 'pasted', text: text.endsWith('\n') ? text : `${text}\n` })
        }}
      >
        <label htmlFor="runs-text">Or paste the lines, headers first</label>
        <textarea id="runs-text" name="text" rows={6} className="figure" spellCheck={false} required />
        <div className="buttons">
          <button type="submit" className="button">
            Look at what I pasted
          </button>
        </div>
      </form>
    </div>
  )
}

function Preview({ reply, file, onTake }: { readonly reply: IntakeReply; readonly file: string; readonly onTake: () => void }): ReactNode {
  if (reply.seenBefore) {
    return (
      <section className="notice">
        <p>
          All that <strong>{file}</strong> holds was taken in before; nothing more to do. <Link to="/runs">See the runs</Link>
        </p>
      </section>
    )
  }
  if (reply.problemCount > 0) return <Problems reply={reply} file={file} />
  return (
    <section className="sheet">
      <h2>What is in {file}</h2>
      <Summary reply={reply} />
      <div className="buttons">
        <button type="button" className="button button-main" onClick={onTake}>
          {reply.summary.starts === 0 ? 'Take in what it says more' : `Take in ${counted(reply.summary.runs, 'run')}`}
        </button>
      </div>
    </section>
  )
}

function Problems({ reply, file }: { readonly reply: IntakeReply; readonly file: string }): ReactNode {
  const shown = reply.problems.length
  return (
    <section className="sheet">
      <h2>
        {counted(reply.problemCount, 'problem')} in {file}; nothing was taken in
      </h2>
      <p>Mend the file and choose it again: it is taken in whole or not at all.{shown < reply.problemCount ? ` The first ${fixed(shown, 0)}:` : ''}</p>
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
