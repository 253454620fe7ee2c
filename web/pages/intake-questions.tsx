// What the file leaves open, each with its choices: nothing comes in before they are answered.
import { useId, useState, type ReactNode } from 'react'
import type { IntakeChoices, IntakeQuestion } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'

export function IntakeQuestions({ questions, choices, onChoices }: { readonly questions: readonly IntakeQuestion[]; readonly choices: IntakeChoices; readonly onChoices: (choices: IntakeChoices) => void }): ReactNode {
  return (
    <section className="sheet intake-questions">
      <h2>{counted(questions.length, 'question')} before it can come in</h2>
      <div className="form">
        {questions.map((question) => (
          <OneQuestion key={question.sentence} question={question} onAnswer={(answer) => onChoices(answered(choices, question, answer))} />
        ))}
      </div>
    </section>
  )
}

function OneQuestion({ question, onAnswer }: { readonly question: IntakeQuestion; readonly onAnswer: (answer: string) => void }): ReactNode {
  const name = useId()
  const [typed, setTyped] = useState('')
  const few = question.options.length <= MOST_SIDE_BY_SIDE
  return (
    <fieldset className="choices">
      <legend>{question.sentence}</legend>
      {few ? (
        <div className="buttons intake-options">
          {question.options.map(({ value, text }) => (
            <button key={value} type="button" className="button" onClick={() => onAnswer(value)}>
              {text}
            </button>
          ))}
        </div>
      ) : (
        <select aria-label={question.sentence} value="" onChange={(event) => onAnswer(event.currentTarget.value)}>
          <option value="" disabled>
            Choose
          </option>
          {question.options.map(({ value, text }) => (
            <option key={value} value={value}>
              {text}
            </option>
          ))}
        </select>
      )}
      {question.free ? (
        <form
          className="intake-free"
          onSubmit={(event) => {
            event.preventDefault()
            if (typed.trim() !== '') onAnswer(typed.trim())
          }}
        >
          <label htmlFor={name}>{question.options.length === 0 ? 'Its name' : 'Or another'}</label>
          <input id={name} value={typed} maxLength={200} placeholder={question.about.choice === 'zone' ? '+01:00' : undefined} onChange={(event) => setTyped(event.currentTarget.value)} />
          <button type="submit" className="button">
            Use this
          </button>
        </form>
      ) : null}
    </fieldset>
  )
}

/** More than these are a list to choose from. */
const MOST_SIDE_BY_SIDE = 5

function answered(choices: IntakeChoices, { about }: IntakeQuestion, answer: string): IntakeChoices {
  if (about.choice === 'given') return { ...choices, given: { ...choices.given, [about.field]: answer } }
  // The options of an outcome are outcomes.
  if (about.choice === 'outcome') return { ...choices, outcomes: [...(choices.outcomes ?? []).filter(({ word }) => word !== about.word), { word: about.word, outcome: answer as NonNullable<IntakeChoices['outcomes']>[number]['outcome'] }] }
  return { ...choices, [about.choice]: answer }
}
