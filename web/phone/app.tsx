// The bench view: what is saved, what is next, and at the foot what a thumb reaches.
import { useEffect, useRef, useState, useSyncExternalStore, type ReactNode } from 'react'
import type { BenchState } from '@guardband/model/api/phone'
import { sheetProgress, type SheetProgress } from '@guardband/model/sheet'
import type { Sheet } from '@guardband/model/records/sheet'
import type { Desk } from './desk.ts'
import { entering, type Enter } from './enter.ts'
import { FootBar } from './foot-bar.tsx'
import { recordsAfter } from './held-state.ts'
import type { LiveDesk } from './live-desk.ts'
import { NextRun } from './next-run.tsx'
import { NextStart } from './next-start.tsx'
import { RigAsks } from './rig-asks.tsx'
import { RigsAtWork } from './rigs-at-work.tsx'
import { SheetChoice } from './sheet-choice.tsx'
import { StartList } from './start-list.tsx'
import { StatusBar } from './status-bar.tsx'

export function App({ desk, live }: { readonly desk: Desk; readonly live: LiveDesk }): ReactNode {
  const view = useSyncExternalStore(desk.listen, desk.view)
  const [chosen, setChosen] = useState(() => location.hash.slice(1))
  const [problem, setProblem] = useState<string>()
  const lastTap = useRef(0)
  const { rigs, unsent } = useSyncExternalStore(live.listen, live.view)
  const asked = rigs.map(({ state: { ask } }) => ask?.id ?? '').join(' ')
  // A question that came or went has moved what is below it: a touch that was on its way meant something else.
  const askedBefore = useRef(asked)
  useEffect(() => {
    if (askedBefore.current !== asked) lastTap.current = performance.now()
    askedBefore.current = asked
  }, [asked])
  const { state } = view

  const choose = (id: string): void => {
    history.replaceState(null, '', `#${id}`)
    setChosen(id)
  }
  const sheet = state?.sheets.find(({ id }) => id === chosen) ?? (state?.sheets.length === 1 ? state.sheets[0] : undefined)
  const run = (work: () => Promise<void>): void => {
    setProblem(undefined)
    work().catch((error: unknown) => setProblem(error instanceof Error ? error.message : String(error)))
  }
  /** A glove bounces: a second touch within the same moment is none. */
  const once = (work: () => Promise<void>): void => {
    if (!bounces()) run(work)
  }
  const bounces = (): boolean => {
    const now = performance.now()
    if (now - lastTap.current < BOUNCE_MS) return true
    lastTap.current = now
    return false
  }
  const enter: Enter = (entry, what, exposure) =>
    once(async () => {
      if (state === undefined || sheet === undefined) return
      await desk.enter(entering({ state, sheet, records: recordsAfter(state, desk.view().waiting) }, entry, what, exposure))
    })

  if (view.hub === 'shut out') return <ShutOut waiting={view.waiting.length + unsent.length} />
  return (
    <>
      <StatusBar view={view} answers={unsent.length} problem={problem} onLeaveOut={() => once(desk.leaveOut)} onTryAgain={desk.tryAgain} />
      <main>
        <RigAsks live={live} once={(work) => (bounces() ? undefined : work())} />
        {state === undefined ? (
          <p className="soft wait">{view.hub === 'silent' ? 'The hub does not answer. This page goes on as soon as it does.' : 'Asking the hub what is next.'}</p>
        ) : sheet === undefined ? (
          <SheetChoice state={state} onChoose={choose} />
        ) : (
          <SheetView key={sheet.id} state={state} sheet={sheet} records={recordsAfter(state, view.waiting)} enter={enter} onOther={state.sheets.length > 1 ? () => choose('') : undefined} />
        )}
        <RigsAtWork live={live} />
      </main>
      {state === undefined || sheet === undefined ? null : (
        <FootBar state={state} records={recordsAfter(state, view.waiting)} sheet={sheet} view={view} desk={desk} enter={enter} once={once} run={run} />
      )}
    </>
  )
}

const BOUNCE_MS = 400

function SheetView(props: { readonly state: BenchState; readonly sheet: Sheet; readonly records: ReturnType<typeof recordsAfter>; readonly enter: Enter; readonly onOther: (() => void) | undefined }): ReactNode {
  const { state, sheet, records, enter } = props
  const progress = sheetProgress(sheet, records)
  return (
    <>
      <header className="sheet-head">
        <p>
          {sheet.name} · {state.rigs.find(({ id }) => id === sheet.rigId)?.name}
          {state.simulated ? ' · simulated' : ''}
        </p>
        {props.onOther === undefined ? null : (
          <button type="button" className="plain" onClick={props.onOther}>
            Other sheets
          </button>
        )}
      </header>
      <Next {...{ state, sheet, records, progress, enter }} />
      <StartList state={state} sheet={sheet} progress={progress} />
    </>
  )
}

function Next({ state, sheet, records, progress, enter }: { readonly state: BenchState; readonly sheet: Sheet; readonly records: ReturnType<typeof recordsAfter>; readonly progress: SheetProgress; readonly enter: Enter }): ReactNode {
  const { next } = progress
  if (next === null) {
    return (
      <section className="card">
        <h1>This sheet is done.</h1>
        <p>{`${progress.starts.filter(({ state: how }) => how === 'done').length} of ${sheet.starts.length === 1 ? '1 start was' : `${sheet.starts.length} starts were`} made. The hub's page shows what came of them.`}</p>
      </section>
    )
  }
  const begun = progress.starts.find(({ planned }) => planned === next.planned)?.state === 'begun'
  if (!begun) return <NextStart key={next.planned.startId} state={state} sheet={sheet} records={records} planned={next.planned} enter={enter} />
  return <NextRun key={`${next.planned.startId} ${next.workloadId} ${next.repeat}`} state={state} sheet={sheet} records={records} next={next} enter={enter} />
}

function ShutOut({ waiting }: { readonly waiting: number }): ReactNode {
  return (
    <main className="alone">
      <h1>This phone is not let in.</h1>
      <p>It was never let in, its leave was taken back, or the hub serves another workspace now.</p>
      {waiting === 0 ? null : <p className="warns">{`${waiting === 1 ? '1 entry waits' : `${waiting} entries wait`} in this phone for the hub. Let the phone in again in this same browser, and they are sent.`}</p>}
      <p>
        <a className="big" href="/">
          Let it in with a code
        </a>
      </p>
    </main>
  )
}
