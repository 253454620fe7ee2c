// The grid of one start: workloads down, repeats across. Every key is handled here or handed on; nothing waits for the hub.
import { useCallback, useEffect, useMemo, useRef, useState, type ReactNode } from 'react'
import type { UsualValue } from '@guardband/model/api/sheets'
import type { Workload } from '@guardband/model/records/workload'
import { inForceOf, repeatsOf, type SheetEntry } from '@guardband/model/sheet'
import { unitText } from '@guardband/model/units'
import { Cell, type CellActs, type CellPlace, type Way } from './cell.tsx'
import type { Desk, DeskState } from './desk.ts'
import { readCell } from './entering.ts'
import type { Act, Direction, Press, RunOutcome } from './keys.ts'
import { besideCell, nextCell } from './next-cell.ts'
import { toldOf } from './told.ts'
import { RowMessages, type Message } from './row-messages.tsx'

interface Asked {
  readonly at: CellPlace
  readonly texts: readonly string[]
  readonly entry: SheetEntry
  readonly question: string
}

export interface GridHandle {
  /** Does what a key does, at the cell where the person was last. */
  readonly pressAtLast: (press: Press) => void
  /** Goes to the run of this workload that is entered next. */
  readonly goToNext: (workloadId: string) => void
}

export function Grid(props: {
  readonly desk: Desk
  readonly state: DeskState
  readonly startId: string
  readonly workloads: readonly Workload[]
  readonly usual: readonly UsualValue[]
  readonly tuneName: (id: string) => string
  readonly direction: Direction
  /** What the last entry was, in a sentence. */
  readonly onSaid: (sentence: string) => void
  readonly onAct: (act: Act, at: CellPlace) => void
  /** How many figures of the start are questioned, and so not entered yet. */
  readonly onQuestioned: (questioned: { readonly startId: string; readonly count: number }) => void
  /** Every run of the start is entered. */
  readonly onDone: () => void
  /** Called with what the legend's buttons do. */
  readonly onHandle: (handle: GridHandle) => void
}): ReactNode {
  const { desk, state, startId, workloads, usual, tuneName, direction, onSaid, onAct, onQuestioned, onDone, onHandle } = props
  const table = useRef<HTMLTableElement>(null)
  const [asked, setAsked] = useState<readonly Asked[]>([])
  const [problems, setProblems] = useState<ReadonlyMap<string, string>>(new Map())
  const last = useRef<{ at: CellPlace; texts: readonly string[] }>({ at: { row: 0, column: 0 }, texts: [] })
  const rows = useMemo(() => workloads.map((workload) => repeatsOf(state.records.runs, startId, workload.id)), [state.records.runs, startId, workloads])
  const columns = Math.max(state.sheet.repeats, ...rows.map((runs) => runs.length))

  // Handlers stay the same ones, so that a key in one cell draws no other anew; what they look at is always the latest.
  const now = useRef({ state, asked, direction, usual, columns, onSaid, onAct, onQuestioned, onDone })
  useEffect(() => {
    now.current = { state, asked, direction, usual, columns, onSaid, onAct, onQuestioned, onDone }
  })

  const focus = useCallback((at: CellPlace | null) => {
    const box = at === null ? null : table.current?.querySelector<HTMLInputElement>(`[data-cell="${at.row}-${at.column}"] input`)
    box?.focus()
    box?.scrollIntoView({ block: 'nearest' })
  }, [])

  const acts = useMemo<CellActs & GridHandle & { readonly first: () => void }>(() => {
    const runsOf = (row: number) => repeatsOf(desk.state().records.runs, startId, workloads[row].id)
    const keepAsked = (next: readonly Asked[]): void => {
      now.current = { ...now.current, asked: next }
      setAsked(next)
      now.current.onQuestioned({ startId, count: next.length })
    }
    const tell = (at: CellPlace, sentence: string | null): void =>
      setProblems((held) => {
        if (sentence === null && !held.has(keyOf(at))) return held
        const next = new Map(held)
        if (sentence === null) next.delete(keyOf(at))
        else next.set(keyOf(at), sentence)
        return next
      })
    const goOn = (from: CellPlace | null): void => {
      const filled = { counts: workloads.map((_, row) => runsOf(row).length), repeats: desk.state().sheet.repeats, asked: new Set(now.current.asked.map(({ at }) => at.row)) }
      const next = nextCell(filled, from, now.current.direction)
      if (next === null) now.current.onDone()
      else focus(next)
    }
    const enter = (at: CellPlace, entry: SheetEntry): 'kept' | 'left' => {
      try {
        now.current.onSaid(desk.enter(entry))
        tell(at, null)
        keepAsked(now.current.asked.filter((one) => keyOf(one.at) !== keyOf(at)))
        goOn(at)
        return 'left'
      } catch (error) {
        tell(at, toldOf(error))
        return 'kept'
      }
    }
    const end = (at: CellPlace, texts: readonly string[], outcome: RunOutcome | undefined): 'kept' | 'left' => {
      const workload = workloads[at.row]
      const runs = runsOf(at.row)
      const run = runs.at(at.column)
      const neighbours = (measure: string): readonly number[] => {
        const own = desk.state().records.runs.flatMap((other) => (other.workloadId === workload.id && other.id !== run?.id && other.outcome === 'scored' ? other.measures.filter(({ name }) => name === measure).map(({ value }) => value) : []))
        return own.length > 0 ? own : now.current.usual.filter((one) => one.workloadId === workload.id && one.measure === measure).map(({ median }) => median)
      }
      const reading = readCell({ startId, workload, run, texts, outcome, neighbours })
      if (reading.reads === 'refused') {
        tell(at, reading.sentence)
        return 'kept'
      }
      if (reading.reads === 'same') {
        const begun = desk.state().records.starts.some(({ id }) => id === startId)
        if (!begun) return begin(at, 'unverified')
        tell(at, null)
        if (run === undefined) focus(besideCell(at, now.current.direction === 'down' ? 'ArrowDown' : 'ArrowRight', { rows: workloads.length, columns: now.current.columns }))
        else goOn(at)
        return 'left'
      }
      if (run === undefined && at.column > runs.length) {
        tell(at, `Repeat ${runs.length + 1} comes first: repeats stand in the order in which they ran.`)
        return 'kept'
      }
      const before = now.current.asked.find((one) => keyOf(one.at) === keyOf(at))
      const confirmed = before !== undefined && before.texts.join('\n') === texts.join('\n') && outcome === undefined
      if (reading.question === undefined || confirmed) return enter(at, confirmed && before.entry.what === reading.entry.what ? before.entry : reading.entry)
      keepAsked([...now.current.asked.filter((one) => keyOf(one.at) !== keyOf(at)), { at, texts, entry: reading.entry, question: reading.question }])
      tell(at, null)
      goOn(at)
      return 'left'
    }
    const begin = (at: CellPlace, known: 'unverified' | 'seen by a person'): 'kept' | 'left' => {
      try {
        now.current.onSaid(desk.enter({ what: known === 'unverified' ? 'begin' : 'known', startId, known }))
        return 'left'
      } catch (error) {
        tell(at, toldOf(error))
        return 'kept'
      }
    }
    const press = (at: CellPlace, what: Press, texts: readonly string[]): 'kept' | 'left' => {
      if (what.does === 'enter') return end(at, texts, undefined)
      if (what.does === 'end') return end(at, texts, what.outcome)
      if (what.act === 'tune seen') begin(at, 'seen by a person')
      else if (what.act === 'keep questioned') {
        const one = now.current.asked.at(-1)
        if (one !== undefined) {
          const entered = enter(one.at, one.entry)
          if (entered === 'left' && keyOf(one.at) !== keyOf(at)) focus(at)
        }
      } else now.current.onAct(what.act, at)
      return 'kept'
    }
    return {
      enter: (at, texts) => end(at, texts, undefined),
      press,
      first: () => {
        const next = nextCell({ counts: workloads.map((_, row) => runsOf(row).length), repeats: desk.state().sheet.repeats, asked: new Set() }, null, now.current.direction)
        focus(next ?? { row: 0, column: 0 })
      },
      goToNext: (workloadId) => {
        const row = workloads.findIndex(({ id }) => id === workloadId)
        if (row >= 0) focus({ row, column: runsOf(row).length })
      },
      pressAtLast: (what) => void press(last.current.at, what, last.current.texts),
      move: (at, key) => focus(besideCell(at, key, { rows: workloads.length, columns: now.current.columns })),
      clear: (at) => {
        keepAsked(now.current.asked.filter((one) => keyOf(one.at) !== keyOf(at)))
        tell(at, null)
      },
      here: (at, texts) => {
        last.current = { at, texts }
        tell(at, null)
      },
    }
  }, [desk, startId, workloads, focus])

  useEffect(() => onHandle(acts), [onHandle, acts])
  useEffect(() => acts.first(), [acts])

  const ways = useMemo(() => waysOf(state), [state])
  const others = useMemo(() => {
    const asked = state.sheet.starts.find((planned) => planned.startId === startId)?.tuneId
    return new Map(inForceOf(state.records.inForce, startId).flatMap(({ id, tuneId }) => (tuneId === asked ? [] : [[id, tuneId === undefined ? 'no tune' : tuneName(tuneId)] as const])))
  }, [state, startId, tuneName])
  return (
    <table className="entry-grid" ref={table}>
      <caption className="unseen">Runs of this start: workloads down, repeats across</caption>
      <thead>
        <tr>
          <th scope="col">Workload</th>
          {Array.from({ length: columns }, (_, column) => (
            <th key={column} scope="col">
              Repeat {column + 1}
            </th>
          ))}
        </tr>
      </thead>
      {workloads.map((workload, row) => {
        const messages = messagesOf(row, rows[row].map(({ id }) => id), { asked, problems, state })
        return (
          <tbody key={workload.id}>
            <tr>
              <th scope="row">
                {workload.name}
                <small>{workload.measures.map(({ name, unit }) => (unitText(unit) === '' ? name : `${name}, ${unitText(unit)}`)).join(' · ')}</small>
              </th>
              {Array.from({ length: columns }, (_, column) => {
                const run = rows[row].at(column)
                const at = keyOf({ row, column })
                const speaks = messages.some((message) => message.column === column)
                return (
                  <CellOf
                    key={column}
                    row={row}
                    column={column}
                    workload={workload}
                    run={run}
                    held={run === undefined ? undefined : others.get(run.inForceId)}
                    way={run === undefined ? undefined : (ways.get(run.id) ?? 'saved')}
                    asked={asked.find((one) => keyOf(one.at) === at)?.texts}
                    problem={problems.has(at)}
                    describedBy={speaks ? `messages-${row}` : undefined}
                    acts={acts}
                  />
                )
              })}
            </tr>
            {messages.length === 0 ? null : <RowMessages id={`messages-${row}`} columns={columns + 1} messages={messages} desk={desk} />}
          </tbody>
        )
      })}
    </table>
  )
}

/** Keeps a cell's place the same object between drawings. */
function CellOf({ row, column, ...rest }: { readonly row: number; readonly column: number } & Omit<Parameters<typeof Cell>[0], 'at'>): ReactNode {
  const at = useMemo(() => ({ row, column }), [row, column])
  return <Cell at={at} {...rest} />
}

/** How far each run is that is not simply on disk. */
function waysOf({ entries }: DeskState): ReadonlyMap<string, Way> {
  const ways = new Map<string, Way>()
  for (const { act, state } of entries) {
    for (const { before, after } of act.items) {
      const record = after ?? before
      if (record?.kind === 'run') ways.set(record.id, state === 'waiting' ? 'on its way' : state)
    }
  }
  return ways
}

function messagesOf(row: number, runIds: readonly string[], { asked, problems, state }: { readonly asked: readonly Asked[]; readonly problems: ReadonlyMap<string, string>; readonly state: DeskState }): readonly Message[] {
  const messages: Message[] = []
  for (const one of asked) if (one.at.row === row) messages.push({ kind: 'question', column: one.at.column, sentence: `${one.question} y keeps it; go back to it to mend it.` })
  for (const [key, sentence] of problems) if (key.startsWith(`${row}-`)) messages.push({ kind: 'problem', column: Number(key.split('-')[1]), sentence })
  for (const entry of state.entries) {
    if (entry.state !== 'refused') continue
    const column = runIds.findIndex((id) => entry.act.items.some(({ before, after }) => (after ?? before)?.id === id))
    if (column >= 0) messages.push({ kind: 'refused', column, sentence: entry.sentence ?? 'The hub refused it.', request: entry.request })
  }
  return messages
}

function keyOf({ row, column }: CellPlace): string {
  return `${row}-${column}`
}
