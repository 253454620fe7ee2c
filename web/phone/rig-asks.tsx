// What rigs ask, with targets that a glove finds: first on the page, since a rig waits for it.
import { useEffect, useRef, useState, useSyncExternalStore, type ReactNode } from 'react'
import type { Ask, LiveRig } from '@guardband/model/api/live'
import { ChangeSheet } from '../pieces/change-sheet.tsx'
import { answeredText, answerOf, answerProblem, askParts, asksFirst, newsOf } from '../pieces/live-words.ts'
import { Elapsed } from '../pieces/moving-time.tsx'
import type { LiveDesk, LiveView } from './live-desk.ts'

export function RigAsks({ live, once }: { readonly live: LiveDesk; readonly once: (work: () => void) => void }): ReactNode {
  const view = useSyncExternalStore(live.listen, live.view)
  const { told } = view
  return (
    <>
      <News rigs={view.rigs} />
      {told.map(({ ask, sentence }) => (
        <div key={ask} className="warns" role="alert">
          <p>{sentence}</p>
          <button type="button" className="plain" onClick={() => live.close(ask)}>
            Close
          </button>
        </div>
      ))}
      {asksFirst(view.rigs).map((rig) => (
        <OneAsk key={rig.device.id} rig={rig} view={view} live={live} once={once} />
      ))}
    </>
  )
}

/** Stays with its rig, so that what was half typed when the question went can be told of. */
function OneAsk({ rig, view, live, once }: { readonly rig: LiveRig; readonly view: LiveView; readonly live: LiveDesk; readonly once: (work: () => void) => void }): ReactNode {
  const { ask } = rig.state
  const [typed, setTyped] = useState<{ readonly ask: Ask; readonly text: string }>()
  const left = typed === undefined || typed.ask.id === ask?.id || typed.text.trim() === '' ? null : (
    <div className="warns" role="alert">
      <p>
        {rig.state.rig} no longer asks "{askParts(typed.ask.text).question}": it was answered elsewhere, or the rig went on. What you typed, {typed.text.trim()}, was not sent.
      </p>
      <button type="button" className="plain" onClick={() => setTyped(undefined)}>
        Close
      </button>
    </div>
  )
  if (ask === null) return left
  const { lead, question } = askParts(ask.text)
  return (
    <section className="card rig-ask" aria-labelledby={`ask-${ask.id}`}>
      <p className="over">
        {rig.state.rig} asks · waits <Elapsed rig={rig} since={ask.since} ahead={view.ahead} />
      </p>
      {lead === '' ? null : <p className="ask-lead">{lead}</p>}
      <h2 id={`ask-${ask.id}`}>{question}</h2>
      {left}
      {ask.lines.length === 0 ? null : <ChangeSheet lines={ask.lines} label={`What must differ on ${rig.state.rig}`} />}
      <AnswerHere rig={rig} ask={ask} view={view} live={live} once={once} text={typed?.ask.id === ask.id ? typed.text : ''} onType={(text) => setTyped({ ask, text })} onGiven={() => setTyped(undefined)} />
    </section>
  )
}

function AnswerHere(props: {
  readonly rig: LiveRig
  readonly ask: Ask
  readonly view: LiveView
  readonly live: LiveDesk
  readonly once: (work: () => void) => void
  readonly text: string
  readonly onType: (text: string) => void
  readonly onGiven: () => void
}): ReactNode {
  const { rig, ask, view, live, once, text, onType, onGiven } = props
  const [tried, setTried] = useState(false)
  const given = view.unsent.find((one) => one.ask === ask.id)
  const said = answeredText(rig)
  if (said !== null) return <p role="status">{said}</p>
  if (given !== undefined) {
    return (
      <>
        <p role="status" className={view.silent ? 'warns' : undefined}>
          {view.silent ? `Not yet sent: ${given.answer === '' ? 'done' : given.answer}. The hub is out of reach; it is sent when the hub is back, if ${rig.state.rig} still asks.` : 'Sending ...'}
        </p>
        {view.silent ? (
          <button type="button" className="plain" onClick={() => live.withdraw(ask.id)}>
            Don't send it
          </button>
        ) : null}
      </>
    )
  }
  const give = (answer: string): void => once(() => {
      live.answer(rig, ask, answer)
      onGiven()
    })
  if (ask.kind === 'done') {
    return (
      <div className="stack">
        <button type="button" className="big main" onClick={() => give('')}>
          Done
        </button>
      </div>
    )
  }
  if (ask.kind === 'choice') {
    return (
      <div className="stack" role="group" aria-labelledby={`ask-${ask.id}`}>
        {ask.words.map((word) => (
          <button key={word} type="button" className="big" onClick={() => give(word)}>
            {word}
          </button>
        ))}
      </div>
    )
  }
  const ready = answerOf(ask, text)
  return (
    <form
      className="stack"
      noValidate
      onSubmit={(event) => {
        event.preventDefault()
        setTried(true)
        if (ready !== null) give(ready)
      }}
    >
      <label className="typed">
        {ask.unit === null ? 'Answer' : `Answer, in ${ask.unit}`}
        <input inputMode={ask.unit === null ? 'text' : 'decimal'} autoComplete="off" enterKeyHint="send" maxLength={ask.unit === null ? MOST_LETTERS : MOST_DIGITS} value={text} aria-invalid={tried && ready === null ? true : undefined} onChange={(event) => onType(event.currentTarget.value)} />
      </label>
      {tried && ready === null ? (
        <p role="alert" className="warns">
          {answerProblem(ask, text)}
        </p>
      ) : null}
      <button type="submit" className="big main">
        {ready === null || ask.unit === null ? 'Answer' : `Answer ${ready} ${ask.unit}`}
      </button>
    </form>
  )
}

/** Heard by those who do not look; heartbeats are no news. */
function News({ rigs }: { readonly rigs: readonly LiveRig[] }): ReactNode {
  const before = useRef<readonly LiveRig[]>([])
  const [news, setNews] = useState('')
  useEffect(() => {
    const said = newsOf(before.current, rigs)
    before.current = rigs
    if (said !== '') setNews(said)
  }, [rigs])
  return (
    <p className="unseen" aria-live="polite">
      {news}
    </p>
  )
}

const MOST_LETTERS = 4000
const MOST_DIGITS = 40
