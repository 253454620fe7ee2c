// What a rig asks, with the buttons that answer it. What a person has begun to type outlives every update of the page.
import { useState, type ReactNode } from 'react'
import type { Ask, LiveRig } from '@guardband/model/api'
import { useAnswerRig } from '../../hub/live-rigs.ts'
import { Field } from '../../pieces/field.tsx'
import { answeredText, answerOf, answerProblem, askParts } from '../../pieces/live-words.ts'
import { Failed } from '../../shell/states.tsx'
import { ChangeSheet } from '../../pieces/change-sheet.tsx'

interface Draft {
  readonly ask: Ask
  readonly text: string
}

/** Nothing where the rig asks nothing and nothing was left half answered. */
export function RigAsk({ rig }: { readonly rig: LiveRig }): ReactNode {
  const { ask } = rig.state
  const answer = useAnswerRig()
  const [draft, setDraft] = useState<Draft | null>(null)
  const [tried, setTried] = useState<string | null>(null)
  const sentHere = answer.variables
  const left = draft !== null && draft.ask.id !== ask?.id && draft.text.trim() !== '' && sentHere?.ask !== draft.ask.id ? draft : null
  const { lead, question } = askParts(ask?.text ?? '')
  // The button goes with the question; the focus must not fall off the page with it.
  const send = (id: string, text: string): void => answer.mutate({ device: rig.device.id, ask: id, answer: text }, { onSuccess: () => document.getElementById(`live-${rig.device.id}`)?.focus({ preventScroll: true }) })

  return (
    <>
      {left === null ? null : (
        <div className="notice" role="status">
          <p>
            {rig.state.rig} no longer asks "{askParts(left.ask.text).question}": it was answered elsewhere, or the rig went on. What you typed, {left.text.trim()}, was not sent.
          </p>
          <button type="button" className="button-quiet" onClick={() => setDraft(null)}>
            Close
          </button>
        </div>
      )}
      {answer.isError && ask?.id !== sentHere?.ask ? <Failed error={answer.error} /> : null}
      {ask === null ? null : (
        <section className="ask" aria-labelledby={`ask-${ask.id}`}>
          {lead === '' ? null : <p className="ask-lead">{lead}</p>}
          <h3 id={`ask-${ask.id}`}>{question}</h3>
          {ask.lines.length === 0 ? null : <ChangeSheet lines={ask.lines} label={`What must differ on ${rig.state.rig}`} />}
          {rig.answered === null ? (
            <Answers
              ask={ask}
              rig={rig.state.rig}
              text={draft?.ask.id === ask.id ? draft.text : ''}
              problem={tried === ask.id ? problemOf(ask, draft?.ask.id === ask.id ? draft.text : '') : undefined}
              busy={answer.isPending}
              onType={(text) => setDraft({ ask, text })}
              onTry={() => setTried(ask.id)}
              onSend={(text) => send(ask.id, text)}
            />
          ) : (
            <p role="status">{answeredText(rig)}</p>
          )}
          {answer.isPending ? <p className="soft">Sending ...</p> : null}
          {answer.isError && sentHere?.ask === ask.id ? <Failed error={answer.error} /> : null}
        </section>
      )}
    </>
  )
}

function Answers(props: {
  readonly ask: Ask
  readonly rig: string
  readonly text: string
  readonly problem: string | undefined
  readonly busy: boolean
  readonly onType: (text: string) => void
  readonly onTry: () => void
  readonly onSend: (answer: string) => void
}): ReactNode {
  const { ask, rig, text, problem, busy, onType, onTry, onSend } = props
  if (ask.kind === 'done') {
    return (
      <div className="buttons">
        <button type="button" className="button button-main" disabled={busy} onClick={() => onSend('')} aria-label={`Done, ${rig}`}>
          Done
        </button>
      </div>
    )
  }
  if (ask.kind === 'choice') {
    return (
      <div className="buttons" role="group" aria-labelledby={`ask-${ask.id}`}>
        {ask.words.map((word) => (
          <button key={word} type="button" className="button" disabled={busy} onClick={() => onSend(word)}>
            {word}
          </button>
        ))}
      </div>
    )
  }
  const ready = answerOf(ask, text)
  return (
    <form
      className="ask-value"
      noValidate
      onSubmit={(event) => {
        event.preventDefault()
        onTry()
        if (ready !== null && !busy) onSend(ready)
      }}
    >
      <Field label={ask.unit === null ? `Answer to ${rig}` : `Answer to ${rig}, in ${ask.unit}`} problem={problem}>
        {(control) => <input {...control} className={ask.unit === null ? undefined : 'short figure'} inputMode={ask.unit === null ? undefined : 'decimal'} maxLength={ask.unit === null ? MOST_LETTERS : MOST_DIGITS} value={text} onChange={(event) => onType(event.currentTarget.value)} />}
      </Field>
      <button type="submit" className="button button-main" disabled={busy}>
        {ready === null || ask.unit === null ? 'Answer' : `Answer ${ready} ${ask.unit}`}
      </button>
    </form>
  )
}

const MOST_LETTERS = 4000
const MOST_DIGITS = 40

function problemOf(ask: Ask, text: string): string | undefined {
  return answerOf(ask, text) === null ? answerProblem(ask, text) : undefined
}
