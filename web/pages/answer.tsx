// The page of one answer: the sentence, what it rests on, the picture, the table; cautions and method in the margin.
import type { ReactNode } from 'react'
import { useQuery } from '@tanstack/react-query'
import { getRouteApi, Link, useNavigate } from '@tanstack/react-router'
import { headlineText, viewOf, type Answer, type AnswerScope } from '@guardband/model/answer'
import { keepTogether } from '@guardband/questions/visible-text'
import { useAct, useAnswer, useBeginAgain, type ShownAnswer } from '../hub/queries.ts'
import { HeadlinePieces } from '../pieces/headline.tsx'
import { Page } from '../shell/page.tsx'
import { Failed, Loaded, Waiting } from '../shell/states.tsx'
import { AnswerKeep } from './answer-keep.tsx'
import { AnswerMargin, CautionRecords } from './answer-margin.tsx'
import { AnswerPicture } from './answer-picture.tsx'
import { AnswerTableView } from './answer-table.tsx'
import { KIND_NAMES, kindView } from './kinds.ts'
import { scopeOf, SCOPES, type ScopeWord } from './answer-scope.ts'

const route = getRouteApi('/questions/$id')

export function AnswerPage(): ReactNode {
  const { id } = route.useParams()
  const search = route.useSearch()
  const shown = useAnswer(id)
  const answer = shown.data?.answer ?? null
  if (shown.data === undefined || answer === null) {
    return (
      <Page crumbs={CRUMBS} name="Answer" headline={shown.isError ? 'This answer cannot be shown.' : 'Working out the answer'}>
        {shown.data === undefined ? <Loaded query={shown} what="the answer">{() => null}</Loaded> : <NotReady id={id} reply={shown.data.reply} />}
      </Page>
    )
  }
  const scope = scopeOf(answer, search.scope)
  const view = viewOf(answer, scope)
  const stops = answer.cautions.filter((caution) => caution.severity === 'stops')
  return (
    <Page
      crumbs={[...CRUMBS, { text: KIND_NAMES[answer.kind] }, ...(answer.question.title === '' ? [] : [{ text: answer.question.title }])]}
      name={headlineText(view.headline)}
      headline={<HeadlinePieces headline={view.headline} tone={view.verdict.tone} />}
      before={
        stops.length === 0 ? null : (
          <section className="stops" aria-label="Read this first">
            {stops.map((caution) => (
              <div key={caution.code}>
                <h2>{caution.title}</h2>
                <p>
                  {keepTogether(caution.text)} <CautionRecords id={id} caution={caution} />
                </p>
              </div>
            ))}
          </section>
        )
      }
      meta={<Meta id={id} answer={answer} scope={scope} />}
      margin={<AnswerMargin id={id} answer={answer} />}
    >
      <Fresh id={id} shown={shown.data} />
      {shown.isError ? <Failed error={shown.error} again={() => void shown.refetch()} /> : null}
      <Figures id={id} answer={answer} scope={scope} />
    </Page>
  )
}

/** Picture and table of this kind of question, and what can be kept of them. */
function Figures({ id, answer, scope }: { readonly id: string; readonly answer: Answer; readonly scope: AnswerScope }): ReactNode {
  // Not by suspending: React holds a revealed place back for most of a second, and the picture is what the page is for.
  const found = useQuery({ queryKey: ['kind', answer.kind], queryFn: () => kindView(answer.kind), staleTime: Number.POSITIVE_INFINITY })
  const kind = found.data
  if (kind === undefined) return found.isError ? <Failed error={found.error} again={() => void found.refetch()} /> : <Waiting what="the picture" />
  const { unavailable } = viewOf(answer, scope)
  return (
    <>
      <div className="sheet">
        {unavailable === undefined ? <AnswerPicture view={kind} answer={answer} scope={scope} /> : <p>{keepTogether(unavailable)}</p>}
      </div>
      <AnswerTableView view={kind} answer={answer} scope={scope} />
      <AnswerKeep view={kind} id={id} answer={answer} scope={scope} />
    </>
  )
}

const CRUMBS = [{ text: 'Questions', to: '/questions' }] as const

function Meta({ id, answer, scope }: { readonly id: string; readonly answer: Answer; readonly scope: AnswerScope }): ReactNode {
  const overall = answer.estimates.find((estimate) => estimate.role === 'overall' && estimate.scope === scope)
  const shown = overall ?? answer.estimates.find((estimate) => estimate.scope === scope && estimate.low !== null)
  const unavailable = answer.views.find((view) => view.unavailable !== undefined && view.scope !== scope)
  return (
    <>
      <ScopeSwitch id={id} answer={answer} scope={scope} />
      {shown === undefined || shown.low === null ? null : <span>{keepTogether(`${Math.round(shown.confidence * 100)} % interval`)}</span>}
      <span>{keepTogether(answer.basis.sentence)}</span>
      {unavailable === undefined ? null : (
        <span className="why-not">
          No answer for {unavailable.scope}: {keepTogether(unavailable.unavailable ?? '')}
        </span>
      )}
    </>
  )
}

function ScopeSwitch({ id, answer, scope }: { readonly id: string; readonly answer: Answer; readonly scope: AnswerScope }): ReactNode {
  const navigate = useNavigate()
  const choose = (word: ScopeWord): void => void navigate({ to: '/questions/$id', params: { id }, search: { scope: word }, replace: true })
  return (
    <fieldset className="scope">
      <legend className="unseen">The answer speaks of</legend>
      {SCOPES.map((entry) => {
        const view = answer.views.find((candidate) => candidate.scope === entry.scope)
        return view === undefined ? null : (
          <label key={entry.word} className={view.unavailable === undefined ? undefined : 'unavailable'} title={view.unavailable}>
            <input type="radio" name="scope" checked={scope === entry.scope} onChange={() => choose(entry.word)} />
            <span>{entry.scope}</span>
          </label>
        )
      })}
    </fieldset>
  )
}

/** Says quietly that a newer answer is on its way, or has just come. */
function Fresh({ id, shown }: { readonly id: string; readonly shown: ShownAnswer }): ReactNode {
  const { reply } = shown
  if (reply.state !== 'ready') {
    return (
      <div className="fresh">
        <p>What is below belongs to the data as they were.</p>
        <NotReady id={id} reply={reply} />
      </div>
    )
  }
  return (
    <div role="status" className={shown.replaced ? 'fresh' : undefined}>
      {shown.replaced ? <p>Data have changed since you opened this page; the answer below is the new one.</p> : null}
    </div>
  )
}

function NotReady({ id, reply }: { readonly id: string; readonly reply: ShownAnswer['reply'] }): ReactNode {
  const cancel = useAct('cancel')
  switch (reply.state) {
    case 'ready':
      return <Waiting what="the answer" />
    case 'computing':
      return (
        <div className="progress">
          <label>
            <span>Computing, {Math.round(reply.seconds)} s so far</span>
            <progress max={1} value={reply.progress} />
          </label>
          <button type="button" className="button" disabled={cancel.isPending} onClick={() => cancel.mutate({ params: { id } })}>
            Cancel
          </button>
        </div>
      )
    case 'cancelled':
      return (
        <div className="progress" role="status">
          <span>Cancelled; nothing was lost.</span>
          <ComputeAgain id={id} />
        </div>
      )
    case 'failed':
      return (
        <div className="notice notice-failed" role="alert">
          <p>{reply.sentence}</p>
          <ComputeAgain id={id} />
          <Link to="/questions">All questions</Link>
        </div>
      )
  }
}

function ComputeAgain({ id }: { readonly id: string }): ReactNode {
  const begin = useBeginAgain(id)
  return (
    <>
      <button type="button" className="button" disabled={begin.isPending} onClick={() => begin.mutate()}>
        Compute again
      </button>
      {begin.isError ? <Failed error={begin.error} /> : null}
    </>
  )
}
