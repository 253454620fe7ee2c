// Above the grid: which start this is, what must be put in for it, and what surrounds it.
import type { ReactNode } from 'react'
import { minutesText } from '@guardband/model/figures'
import type { Start } from '@guardband/model/records/start'
import { assemblyNow, conditionsAhead, inForceOf, slotsToSwap, type SheetStartProgress } from '@guardband/model/sheet'
import { changedText, CONDITION_WORDS } from '@guardband/model/sheet-words'
import { When } from '../../pieces/when.tsx'
import type { DeskState } from './desk.ts'
import type { Names } from './names.ts'

export interface HandMinutes {
  readonly sample: number
  readonly tune: number
}

export function StartHead({ state, progress, names, minutes }: { readonly state: DeskState; readonly progress: SheetStartProgress; readonly names: Names; readonly minutes: HandMinutes | undefined }): ReactNode {
  const { planned, start } = progress
  const { sheet } = state
  const place = sheet.starts.indexOf(planned)
  return (
    <header className="start-head">
      <h2>
        Start {place + 1} of {sheet.starts.length}: {names.start(planned)}
      </h2>
      {start === undefined ? <Ahead state={state} progress={progress} names={names} minutes={minutes} /> : <Begun state={state} start={start} names={names} />}
    </header>
  )
}

function Ahead({ state, progress: { planned }, names, minutes }: Parameters<typeof StartHead>[0]): ReactNode {
  const { sheet, records } = state
  const now = assemblyNow(sheet.rigId, records.assemblies)
  const swaps = slotsToSwap(planned, now)
  const before = records.starts.toSorted((a, b) => (a.at ?? '').localeCompare(b.at ?? '')).at(-1)
  const letPast = names.letPast(planned.tuneId)
  const steps: string[] = []
  if (swaps.length > 0) steps.push(`Put in ${swaps.map(({ sampleId }) => names.sample(sampleId)).join(' and ')}${minutes === undefined ? '' : `: ${minutesText(minutes.sample)} by hand`}`)
  if (before?.tuneId !== planned.tuneId) steps.push(`Set ${names.tune(planned.tuneId)}${minutes === undefined || minutes.tune === 0 ? '' : `: ${minutesText(minutes.tune)} by hand`}`)
  return (
    <>
      <p className="start-now">{steps.length === 0 ? `Nothing to swap: ${HOW_WORDS[planned.how]}.` : `${steps.join('. ')}. Then ${HOW_WORDS[planned.how]}.`}</p>
      {letPast === undefined ? null : <p className="start-warns">This tune is let past a ceiling ({letPast.replace(/\.$/, '')}): to begin it puts the samples that it reaches into quarantine.</p>}
      <p>
        <b>Enter</b> begins this start; <b>v</b> begins it with the tune seen in force; so does typing its first figure, with the tune not looked at.
      </p>
      <Conditions of={conditionsAhead(sheet, records.starts)} lead="Carried on" />
    </>
  )
}

const HOW_WORDS: Readonly<Record<Start['how'], string>> = { cold: 'power on cold', warm: 'start again warm', restored: 'start from restored training', live: 'put it in force live' }

function Begun({ state, start, names }: { readonly state: DeskState; readonly start: Start; readonly names: Names }): ReactNode {
  const stretches = inForceOf(state.records.inForce, start.id)
  const held = stretches.at(-1)
  const others = state.records.starts.filter(({ id, at }) => id !== start.id && (at ?? '') < (start.at ?? '')).toSorted((a, b) => (a.at ?? '').localeCompare(b.at ?? ''))
  const changed = others.length === 0 ? '' : changedText(others.at(-1)?.conditions ?? {}, start.conditions)
  return (
    <>
      <p className="start-now">
        {start.result === 'started' ? 'Begun' : <b className="outcome-failure">{start.result}</b>} {start.at === undefined ? null : <When at={start.at} />}
        {'. In force: '}
        {held === undefined ? 'nothing' : held.tuneId === undefined ? 'what no tune names' : names.tune(held.tuneId)}
        {held === undefined ? '' : ` (${held.known})`}
        {stretches.length > 1 ? `, changed ${stretches.length - 1 === 1 ? 'once' : `${stretches.length - 1} times`} since the start` : ''}
        {start.training === undefined ? '' : `. Training: ${start.training.result}${start.training.tries === undefined ? '' : ` after ${start.training.tries} tries`}`}.
      </p>
      <Conditions of={start.conditions} lead={changed === '' || changed === 'as before' ? 'Conditions' : `Changed here: ${changed}. All`} />
      {start.note === undefined ? null : <p className="soft">Note: {start.note}</p>}
    </>
  )
}

function Conditions({ of, lead }: { readonly of: Start['conditions']; readonly lead: string }): ReactNode {
  const texts = (Object.keys(of) as (keyof Start['conditions'])[]).map((key) => `${CONDITION_WORDS[key]} ${of[key]}${UNITS[key] ?? ''}`) // Its own keys.
  return <p className="soft">{texts.length === 0 ? 'No conditions noted yet; c notes them.' : `${lead}: ${texts.join(', ')}.`}</p>
}

const UNITS: Readonly<Partial<Record<keyof Start['conditions'], string>>> = { ambient: ' °C', coolant: ' °C', humidity: ' %' }
