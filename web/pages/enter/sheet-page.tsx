// A sheet being worked off: one start at a time, with its grid, what is still on its way, and the list of starts in the margin.
import { useCallback, useEffect, useMemo, useRef, useState, type ReactNode } from 'react'
import { Link, useNavigate } from '@tanstack/react-router'
import type { UsualValue } from '@guardband/model/api/sheets'
import { counted } from '@guardband/model/figures'
import { COMPARABLE_OUTCOMES, type Run } from '@guardband/model/records/run'
import type { Workload } from '@guardband/model/records/workload'
import { conditionsAhead, inForceOf, repeatsOf, sheetProgress, type SheetEntry } from '@guardband/model/sheet'
import type { OutboxEntry } from '../../hub/outbox.ts'
import { ReasonDialog } from '../../pieces/dialog.tsx'
import { EvidenceShelf } from '../../pieces/evidence-shelf.tsx'
import { MarginNote, Page } from '../../shell/page.tsx'
import type { CellPlace } from './cell.tsx'
import type { Desk } from './desk.ts'
import { ConditionsDialog, InForceDialog, NoteDialog, StartFailedDialog, TrainingDialog, WhereDialog } from './entry-dialogs.tsx'
import { Grid, type GridHandle } from './grid.tsx'
import { storedDirection, storeDirection, type Act } from './keys.ts'
import { Legend } from './legend.tsx'
import { namesOf, type Catalogue } from './names.ts'
import { RefusedActs } from './row-messages.tsx'
import { SavedNote } from './saved-note.tsx'
import { StartHead, type HandMinutes } from './start-head.tsx'
import { StartList } from './start-list.tsx'
import { toldOf } from './told.ts'
import { useDeskState } from './use-desk.ts'

type Open = { readonly what: Extract<Act, 'start failed' | 'training' | 'in force changed' | 'conditions' | 'note' | 'where it failed'> | 'leave out'; readonly at: CellPlace }

export function SheetPage({ desk, startId, workloads, usual, catalogue, minutes }: {
  readonly desk: Desk
  /** As the address has it. */
  readonly startId: string | undefined
  /** Those of the sheet, in its order. */
  readonly workloads: readonly Workload[]
  readonly usual: readonly UsualValue[]
  readonly catalogue: Catalogue
  readonly minutes: HandMinutes | undefined
}): ReactNode {
  const state = useDeskState(desk)
  const { sheet, records } = state
  const names = useMemo(() => namesOf(catalogue), [catalogue])
  const progress = useMemo(() => sheetProgress(sheet, records), [sheet, records])
  const navigate = useNavigate()
  const [direction, setDirection] = useState(() => storedDirection(localStorage))
  const [said, setSaid] = useState('')
  const [questioned, setQuestioned] = useState({ startId: '', count: 0 })
  const [open, setOpen] = useState<Open | null>(null)
  const [problem, setProblem] = useState<string | null>(null)
  const handle = useRef<GridHandle | null>(null)
  const shown = progress.starts.find(({ planned }) => planned.startId === startId) ?? progress.starts.find(({ planned }) => planned.startId === progress.next?.planned.startId) ?? progress.starts[0]
  const shownId = shown.planned.startId

  const goTo = useCallback((id: string) => void navigate({ to: '/runs/enter', search: { sheet: sheet.id, start: id }, replace: true }), [navigate, sheet.id])
  // The address names the start, so that a reload comes back to it.
  useEffect(() => {
    if (startId !== shownId) goTo(shownId)
  }, [startId, shownId, goTo])

  const nextStart = (): void => {
    const { next } = sheetProgress(desk.state().sheet, desk.state().records)
    if (next === null) setSaid('Every start of this sheet is done.')
    else if (next.planned.startId === shownId) setSaid('This start still lacks runs.')
    else goTo(next.planned.startId)
  }
  /** From the start shown on: the next that is not done, wherever the sheet's own next is. */
  const jump = (): void => {
    const at = progress.starts.indexOf(shown)
    const after = [...progress.starts.slice(at + 1), ...progress.starts.slice(0, at)].find((one) => one.state === 'to do' || one.state === 'begun')
    if (after === undefined) setSaid('No other start is left to do.')
    else goTo(after.planned.startId)
  }
  const enter = (entry: SheetEntry): boolean => {
    try {
      setSaid(desk.enter(entry))
      setProblem(null)
      setOpen(null)
      return true
    } catch (error) {
      const sentence = toldOf(error)
      setProblem(sentence)
      setSaid(sentence)
      return false
    }
  }
  const runAt = ({ row, column }: CellPlace): Run | undefined => repeatsOf(records.runs, shownId, workloads[row].id).at(column)
  const failedAt = (at: CellPlace): Run | undefined => {
    const run = runAt(at)
    if (run !== undefined && !COMPARABLE_OUTCOMES.has(run.outcome)) return run
    return records.runs.filter((other) => other.startId === shownId && !COMPARABLE_OUTCOMES.has(other.outcome)).toSorted((a, b) => a.order - b.order).at(-1)
  }
  const act = (what: Act, at: CellPlace): void => {
    setProblem(null)
    switch (what) {
      case 'take back': {
        const back = desk.takeBack()
        setSaid(back === null ? 'Nothing was entered here that could be taken back. The change log takes back what is older.' : `Taken back: ${back.what}`)
        const run = back?.items.map(({ before, after }) => after ?? before).find((record) => record?.kind === 'run')
        if (run?.kind !== 'run') return
        if (run.startId === shownId) handle.current?.goToNext(run.workloadId)
        else goTo(run.startId)
        return
      }
      case 'next start':
        return jump()
      case 'start before': {
        const before = progress.starts[progress.starts.indexOf(shown) - 1]
        if (before !== undefined) goTo(before.planned.startId)
        return
      }
      case 'turn direction': {
        const turned = direction === 'down' ? 'across' : 'down'
        storeDirection(localStorage, turned)
        setDirection(turned)
        setSaid(`Enter goes ${turned} now.`)
        return
      }
      case 'remount':
        if (enter({ what: 'remount', startId: shownId }) && shown.done > 0) setSaid('Mounted anew: holds from the next start on, since this one has runs. u takes it back.')
        return
      case 'where it failed':
        if (failedAt(at) === undefined) setSaid('No run of this start failed.')
        else setOpen({ what, at })
        return
      case 'in force changed':
        if (shown.start === undefined) setSaid('Begin the start first: what is in force can change only within one.')
        else setOpen({ what, at })
        return
      case 'start failed':
      case 'training':
      case 'conditions':
      case 'note':
        setOpen({ what, at })
        return
      case 'tune seen':
      case 'keep questioned':
        // The grid answers these itself.
        return
    }
  }
  const onHandle = useCallback((given: GridHandle) => {
    handle.current = given
  }, [])
  const close = (): void => {
    setOpen(null)
    setProblem(null)
  }
  const done = progress.starts.reduce((sum, one) => sum + one.done, 0)
  const whole = progress.starts.reduce((sum, one) => sum + one.of, 0)
  const noted = open === null ? undefined : runAt(open.at)
  return (
    <Page
      crumbs={[{ text: 'Runs', to: '/runs' }, { text: 'Enter runs' }]}
      name={`Enter: ${sheet.name}`}
      headline={sheet.name}
      meta={
        <>
          <span>
            {names.rig(sheet.rigId)}. {done} of {counted(whole, 'run')}.
          </span>
          <SavedNote entries={state.entries} trouble={state.trouble} questioned={questioned.startId === shownId ? questioned.count : 0} />
        </>
      }
      margin={
        <MarginNote title="Starts">
          <StartList sheetId={sheet.id} progress={progress} shown={shownId} names={names} stuck={stuckStarts(state.entries)} />
        </MarginNote>
      }
    >
      <StartHead state={state} progress={shown} names={names} minutes={minutes} />
      {shown.planned.skipped === undefined ? null : <p className="notice">Left out: {shown.planned.skipped}</p>}
      <Stuck desk={desk} />
      {progress.next === null && state.entries.length === 0 ? (
        <p className="notice">
          Nothing is left to do on this sheet: <Link to="/questions/ask">ask what came of it</Link>, or <Link to="/runs">see the runs</Link>.
        </p>
      ) : null}
      <Grid key={shownId} desk={desk} state={state} startId={shownId} workloads={workloads} usual={usual} tuneName={names.tune} direction={direction} onSaid={setSaid} onAct={act} onQuestioned={setQuestioned} onDone={nextStart} onHandle={onHandle} />
      <p className="said" role="status">
        {said}
      </p>
      <Legend direction={direction} onPress={(press) => handle.current?.pressAtLast(press)} />
      {shown.start === undefined ? null : <EvidenceShelf about={shownId} />}
      {shown.state === 'to do' ? (
        <p>
          <button type="button" className="button-quiet" onClick={() => setOpen({ what: 'leave out', at: { row: 0, column: 0 } })}>
            Leave this start out
          </button>
        </p>
      ) : null}
      {open?.what === 'start failed' ? <StartFailedDialog problem={problem} onClose={close} onResult={(result) => { if (enter({ what: 'start failed', startId: shownId, result })) nextStart() }} /> : null}
      {open?.what === 'training' ? <TrainingDialog training={shown.start?.training} problem={problem} onClose={close} onTraining={(training) => enter({ what: 'training', startId: shownId, training })} /> : null}
      {open?.what === 'in force changed' ? <InForceDialog tunes={catalogue.tunes} now={inForceOf(records.inForce, shownId).at(-1)?.tuneId} problem={problem} onClose={close} onTune={(tuneId, known) => enter({ what: 'in force changed', startId: shownId, known, ...(tuneId === undefined ? {} : { tuneId }) })} /> : null}
      {open?.what === 'conditions' ? <ConditionsDialog conditions={shown.start?.conditions ?? conditionsAhead(sheet, records.starts)} begins={shown.start === undefined} problem={problem} onClose={close} onConditions={(conditions) => enter({ what: 'conditions', startId: shownId, conditions })} /> : null}
      {open?.what === 'note' ? (
        noted === undefined && shown.start === undefined ? (
          <NoteDialog about="Begin the start first; then it can carry a note." note="" problem={problem} onClose={close} onNote={close} />
        ) : (
          <NoteDialog about={noted === undefined ? 'About this start' : `About this run of ${workloads[open.at.row].name}`} note={noted?.note ?? (noted === undefined ? (shown.start?.note ?? '') : '')} problem={problem} onClose={close} onNote={(note) => enter({ what: 'note', recordId: noted?.id ?? shownId, note })} />
        )
      ) : null}
      {open?.what === 'where it failed' ? <Where run={failedAt(open.at)} problem={problem} onClose={close} onEnter={enter} /> : null}
      {open?.what === 'leave out' ? (
        <ReasonDialog
          title="Leave this start out"
          explain="It stays on the sheet, marked, and is not asked for again."
          label="Why"
          act="Leave it out"
          busy={false}
          problem={null}
          onClose={close}
          onReason={(reason) => {
            desk.changeSheet(`Left out ${names.start(shown.planned)}`, { ...sheet, starts: sheet.starts.map((planned) => (planned.startId === shownId ? { ...planned, skipped: reason } : planned)) })
            close()
            nextStart()
          }}
        />
      ) : null}
    </Page>
  )
}

function Where({ run, problem, onClose, onEnter }: { readonly run: Run | undefined; readonly problem: string | null; readonly onClose: () => void; readonly onEnter: (entry: SheetEntry) => void }): ReactNode {
  if (run === undefined) return null
  return <WhereDialog run={run} problem={problem} onClose={onClose} onWhere={(where) => onEnter({ what: 'correct run', runId: run.id, outcome: run.outcome, measures: run.measures, ...where })} />
}

/** The starts of which an entry was refused or waits for one that was. */
function stuckStarts(entries: readonly OutboxEntry[]): ReadonlySet<string> {
  return new Set(
    entries.flatMap(({ state, act }) =>
      state === 'waiting' ? [] : act.items.flatMap(({ before, after }) => {
        const record = after ?? before
        return record?.kind === 'start' ? [record.id] : record?.kind === 'run' || record?.kind === 'in force' ? [record.startId] : []
      }),
    ),
  )
}

/** Refused entries that belong to no cell: a start that may not begin, a step back that others stand on. */
function Stuck({ desk }: { readonly desk: Desk }): ReactNode {
  const refused = desk.state().entries.filter((entry) => entry.state === 'refused' && (entry.act.kind === 'take back' || !entry.act.items.some(({ before, after }) => (after ?? before)?.kind === 'run')))
  if (refused.length === 0) return null
  return (
    <div className="notice notice-failed" role="alert">
      {refused.map(({ request, act, sentence }) => (
        <p key={request}>
          <b>Not saved: {act.what}.</b> {sentence} <RefusedActs request={request} desk={desk} />
        </p>
      ))}
    </div>
  )
}
