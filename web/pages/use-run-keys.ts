// The keys of a list of runs: arrows go from run to run and on to the next page, Space chooses, Enter opens. No key is taken while the focus is elsewhere.
import { useEffect, useRef, useState, type KeyboardEvent, type MouseEvent } from 'react'
import type { RunRow } from '@guardband/model/api'
import type { RunChoice } from './run-ledger.tsx'

export interface RunKeys {
  /** The run that the Tab key stops at. */
  readonly reached: string | undefined
  readonly onTable: { readonly onKeyDown?: (event: KeyboardEvent<HTMLTableElement>) => void; readonly onClick?: (event: MouseEvent<HTMLTableElement>) => void }
}

export function useRunKeys(rows: readonly RunRow[], choice: RunChoice | undefined): RunKeys {
  const [at, setAt] = useState<string | undefined>(undefined)
  const entering = useRef<'on' | 'back' | null>(null)
  const anchor = useRef<string | undefined>(undefined)
  const reached = rows.some(({ id }) => id === at) ? at : rows[0]?.id
  // Keys that led to another page go on in it.
  useEffect(() => {
    const way = entering.current
    if (way === null) return
    entering.current = null
    const row = way === 'on' ? rows[0] : rows.at(-1)
    if (row !== undefined) focusRun(row.id)
  }, [rows])
  if (choice === undefined) return { reached, onTable: {} }

  const rangeTo = (id: string): readonly RunRow[] => {
    const [from, to] = [rows.findIndex((row) => row.id === (anchor.current ?? id)), rows.findIndex((row) => row.id === id)]
    return from < 0 ? rows.slice(to, to + 1) : rows.slice(Math.min(from, to), Math.max(from, to) + 1)
  }
  return {
    reached,
    onTable: {
      onKeyDown: (event) => {
        const place = rows.findIndex(({ id }) => id === runOf(event.target))
        if (place < 0 || event.altKey || event.ctrlKey || event.metaKey) return
        const row = rows[place]
        if (event.key === 'Enter') return choice.onOpen(row)
        const to = { ArrowDown: place + 1, ArrowUp: place - 1, Home: 0, End: rows.length - 1 }[event.key]
        if (to === undefined) return
        event.preventDefault()
        const next = rows[to]
        if (next === undefined) {
          entering.current = to < 0 ? 'back' : 'on'
          return choice.onBeyond(entering.current)
        }
        if (event.shiftKey) choice.onChoose([row, next], 'chosen')
        setAt(next.id)
        focusRun(next.id)
      },
      onClick: (event) => {
        const id = runOf(event.target)
        const row = rows.find((each) => each.id === id)
        if (row === undefined) return
        setAt(row.id)
        choice.onChoose(event.shiftKey ? rangeTo(row.id) : [row], choice.chosen.has(row.id) ? 'not chosen' : 'chosen')
        anchor.current = row.id
      },
    },
  }
}

function runOf(target: EventTarget): string | undefined {
  return target instanceof HTMLInputElement ? target.dataset['run'] : undefined
}

function focusRun(id: string): void {
  document.querySelector<HTMLInputElement>(`input[data-run="${id}"]`)?.focus()
}
