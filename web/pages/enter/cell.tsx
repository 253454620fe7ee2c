// One run on the sheet: a box for each measure, and beneath it in a shape and a word how far it is: typed, questioned, on its way, saved.
import { memo, useState, type KeyboardEvent, type ReactNode } from 'react'
import { COMPARABLE_OUTCOMES, type Run } from '@guardband/model/records/run'
import type { Workload } from '@guardband/model/records/workload'
import { unitText } from '@guardband/model/units'
import { outcomeKind } from '../../pieces/outcome-mark.tsx'
import { pressOf, type Press } from './keys.ts'

export interface CellPlace {
  /** Of the workload, from 0. */
  readonly row: number
  /** From 0. */
  readonly column: number
}

export type Way = 'saved' | 'on its way' | 'refused' | 'held'

export interface CellActs {
  /** Enter: saves what stands in the boxes. */
  readonly enter: (at: CellPlace, texts: readonly string[]) => 'kept' | 'left'
  readonly press: (at: CellPlace, press: Press, texts: readonly string[]) => 'kept' | 'left'
  readonly move: (at: CellPlace, key: 'ArrowUp' | 'ArrowDown' | 'ArrowLeft' | 'ArrowRight') => void
  readonly clear: (at: CellPlace) => void
  readonly here: (at: CellPlace, texts: readonly string[]) => void
}

export interface CellProps {
  readonly at: CellPlace
  readonly workload: Workload
  readonly run: Run | undefined
  /** In force while it ran, where that was not what the start was asked for. */
  readonly held: string | undefined
  readonly way: Way | undefined
  /** Questioned and not saved: what was typed. */
  readonly asked: readonly string[] | undefined
  readonly problem: boolean
  readonly describedBy: string | undefined
  readonly acts: CellActs
}

export const Cell = memo(function Cell({ at, workload, run, held, way, asked, problem, describedBy, acts }: CellProps): ReactNode {
  const [typing, setTyping] = useState<{ readonly runId: string | undefined; readonly texts: readonly string[] } | null>(null)
  const saved = textsOf(run, workload)
  // What was typed before the run was there, or stands there by now, is typed no longer.
  const draft = typing !== null && typing.runId === run?.id && !sameTexts(typing.texts, asked ?? saved) ? typing.texts : null
  const texts = draft ?? asked ?? saved
  const state = draft !== null ? 'typed' : asked !== undefined ? 'asked' : (way ?? 'empty')
  const settle = (result: 'kept' | 'left'): void => {
    if (result === 'left') setTyping(null)
  }
  const onKey = (event: KeyboardEvent<HTMLInputElement>, measure: number): void => {
    const box = event.currentTarget
    if (event.key === 'Enter') {
      event.preventDefault()
      // The next measure of the same run comes first, where it is still missing.
      if (texts[measure]?.trim() !== '' && texts.slice(measure + 1).some((text) => text.trim() === '') && run === undefined) boxOf(box, measure + 1)?.focus()
      else settle(acts.enter(at, texts))
    } else if (event.key === ' ') {
      event.preventDefault()
      boxOf(box, (measure + 1) % workload.measures.length)?.focus()
    } else if (event.key === 'Escape') {
      setTyping(null)
      acts.clear(at)
    } else if (isArrow(event.key)) {
      if (staysInText(box, event.key)) return
      event.preventDefault()
      acts.move(at, event.key)
    } else {
      const press = pressOf(event)
      if (press === undefined) return
      event.preventDefault()
      settle(acts.press(at, press, texts))
    }
  }
  return (
    <td className={`cell cell-${state.replaceAll(' ', '-')}`} data-cell={`${at.row}-${at.column}`}>
      <div className="cell-boxes">
        {workload.measures.map((measure, place) => (
          <input
            key={measure.name}
            className="cell-box figure"
            inputMode="decimal"
            autoComplete="off"
            enterKeyHint="done"
            aria-label={`${workload.name}, repeat ${at.column + 1}, ${measure.name}${unitText(measure.unit) === '' ? '' : ` in ${unitText(measure.unit)}`}`}
            aria-invalid={problem || undefined}
            aria-describedby={describedBy}
            value={texts[place] ?? ''}
            onChange={(event) => {
              const text = event.currentTarget.value
              // Letters that do nothing are no part of a figure.
              if (/[^0-9.,+\-\u2212\s]/.test(text)) return
              const typed = texts.map((held, other) => (other === place ? text : held))
              setTyping({ runId: run?.id, texts: typed })
              acts.here(at, typed)
            }}
            onFocus={(event) => {
              event.currentTarget.select()
              acts.here(at, texts)
            }}
            onKeyDown={(event) => onKey(event, place)}
          />
        ))}
      </div>
      <span className="cell-word">
        <StateMark state={state} />
        {wordOf(state, run)}
        {held === undefined ? null : <span className="cell-held-tune"> at {held}</span>}
      </span>
    </td>
  )
})

/** The word beneath a cell; a scored run that is saved needs none but the mark. */
function wordOf(state: string, run: Run | undefined): ReactNode {
  if (state === 'empty') return null
  const failed = run !== undefined && !(COMPARABLE_OUTCOMES.has(run.outcome) && run.measures.length > 0) && state !== 'typed' && state !== 'asked' ? run.outcome : undefined
  const end = failed === undefined || run === undefined ? null : <b className={`outcome-${outcomeKind(run.outcome)}`}>{failed} </b>
  const more = state === 'saved' && run !== undefined && (run.setAside !== undefined || run.note !== undefined) ? (run.setAside === undefined ? ' noted' : ' set aside') : ''
  return (
    <>
      {end}
      <span className={state === 'saved' ? 'unseen' : undefined}>{state === 'asked' ? 'questioned' : state}</span>
      {more}
    </>
  )
}

/** Shapes first: hollow while only typed, a question mark, half full on its way, full once it is on disk, crossed when refused. */
export function StateMark({ state }: { readonly state: string }): ReactNode {
  if (state === 'empty') return null
  return (
    <svg className="mark" viewBox="0 0 16 16" aria-hidden="true" focusable="false">
      {state === 'typed' ? <circle cx="8" cy="8" r="5.5" fill="none" stroke="currentColor" strokeWidth="2" strokeDasharray="3 2" /> : null}
      {state === 'asked' ? <path d="M5 6a3 3 0 1 1 4.4 2.6C8.4 9.2 8 9.7 8 11m0 2.2v1" fill="none" stroke="currentColor" strokeWidth="2" /> : null}
      {state === 'on its way' ? <circle cx="8" cy="8" r="5" fill="none" stroke="currentColor" strokeWidth="2" /> : null}
      {state === 'on its way' ? <path d="M8 3a5 5 0 0 0 0 10z" fill="currentColor" /> : null}
      {state === 'saved' ? <path d="m3 8.5 3.5 3.5 6.5-7.5" fill="none" stroke="currentColor" strokeWidth="2.2" strokeLinecap="round" /> : null}
      {state === 'refused' || state === 'held' ? <path d="m3 3 10 10M13 3 3 13" stroke="currentColor" strokeWidth="2.6" strokeLinecap="round" /> : null}
    </svg>
  )
}

/** As a person would type it: every digit, a plain minus. */
export function textsOf(run: Run | undefined, workload: Workload): readonly string[] {
  return workload.measures.map(({ name }) => String(run?.measures.find((measure) => measure.name === name)?.value ?? ''))
}

function sameTexts(a: readonly string[], b: readonly string[]): boolean {
  return a.every((text, place) => text === b[place])
}

function isArrow(key: string): key is 'ArrowUp' | 'ArrowDown' | 'ArrowLeft' | 'ArrowRight' {
  return key.startsWith('Arrow')
}

/** Left and right stay in a text that the caret stands within. */
function staysInText(box: HTMLInputElement, key: string): boolean {
  const [from, to] = [box.selectionStart ?? 0, box.selectionEnd ?? 0]
  if (from === 0 && to === box.value.length) return false
  return (key === 'ArrowLeft' && to > 0) || (key === 'ArrowRight' && from < box.value.length)
}

function boxOf(box: HTMLInputElement, measure: number): HTMLInputElement | undefined {
  return box.parentElement?.querySelectorAll('input')[measure]
}
