// Making a sheet: what is run on what, in which order, and what that order costs before the first minute is spent.
import { useMemo, useState, type ReactNode } from 'react'
import { useNavigate } from '@tanstack/react-router'
import { counted, minutesText } from '@guardband/model/figures'
import type { Assembly } from '@guardband/model/records/parts'
import { slotSchema, type Slot } from '@guardband/model/records/parts'
import type { Sheet } from '@guardband/model/records/sheet'
import { startHowSchema, type StartHow } from '@guardband/model/records/start'
import type { Suite, Workload } from '@guardband/model/records/workload'
import { assemblyNow } from '@guardband/model/sheet'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { ChoiceField, TextField } from '../../pieces/field.tsx'
import { Failed } from '../../shell/states.tsx'
import { costOfOrder, drawUpOrder, inTurns, moved, plannedStarts, type Combination, type CostOf, type Rounds } from './draw-up.ts'
import { namesOf, type Catalogue } from './names.ts'
import { OrderList } from './order-list.tsx'
import { PickList } from './pick-list.tsx'

export interface MakeSheetProps {
  readonly catalogue: Catalogue
  readonly workloads: readonly Workload[]
  readonly suites: readonly Suite[]
  readonly assemblies: readonly Assembly[]
  /** The last one made: its rig, suite and conditions are offered again. */
  readonly last: Sheet | undefined
  readonly costOf: CostOf
  /** one: a single start, with what sits in the rig. */
  readonly of: 'a day' | 'one start'
}

export function MakeSheet({ catalogue, workloads, suites, assemblies, last, costOf, of }: MakeSheetProps): ReactNode {
  const one = of === 'one start'
  const names = useMemo(() => namesOf(catalogue), [catalogue])
  const navigate = useNavigate()
  const apply = useApply()
  const [name, setName] = useState(() => `${one ? 'One start' : 'Starts of'} ${dayName.format(new Date())}`)
  const [rigId, setRigId] = useState(last?.rigId ?? catalogue.rigs[0]?.id ?? '')
  const now = useMemo(() => assemblyNow(rigId, assemblies), [rigId, assemblies])
  const [suiteId, setSuiteId] = useState(last === undefined ? (suites[0]?.id ?? '') : (last.suiteId ?? ''))
  const [workloadIds, setWorkloadIds] = useState<readonly string[]>(last?.workloadIds ?? [])
  const [tuneIds, setTuneIds] = useState<readonly string[]>([])
  const [slot, setSlot] = useState<Slot>(last?.starts[0]?.slots[0]?.slot ?? 'processor')
  const [sampleIds, setSampleIds] = useState<readonly string[]>([])
  const [starts, setStarts] = useState(one ? '1' : '3')
  const [repeats, setRepeats] = useState(String(last?.repeats ?? (one ? 1 : 2)))
  const [how, setHow] = useState<StartHow>(last?.starts[0]?.how ?? 'cold')
  const [rounds, setRounds] = useState<Rounds | null>(null)
  /** As the person moved it; null follows what is chosen above. */
  const [own, setOwn] = useState<readonly (Combination & { readonly how: StartHow })[] | null>(null)
  const [tried, setTried] = useState(false)

  const ofSlot = useMemo(() => {
    const parts = new Map(catalogue.parts.map((part) => [part.id, part]))
    return catalogue.samples.filter(({ partId }) => parts.get(partId)?.slot === slot)
  }, [catalogue, slot])
  const inRig = useMemo(() => new Set(now?.slots.map(({ sampleId }) => sampleId)), [now])
  const sittingHere = ofSlot.filter(({ id }) => inRig.has(id)).map(({ id }) => id)
  const wantedSamples = one && sampleIds.length === 0 ? sittingHere.slice(0, 1) : sampleIds
  const chosen = ofSlot.filter(({ id }) => wantedSamples.includes(id))
  const severalParts = new Set(chosen.map(({ partId }) => partId)).size > 1
  const turned: Rounds = rounds ?? (severalParts ? 'there and back' : 'once')
  const startCount = wholeNumber(starts, MOST_STARTS)
  const repeatCount = wholeNumber(repeats, MOST_REPEATS)
  const drawn = (kind: Rounds) => drawUpOrder({ samples: inTurns(chosen), tunes: tuneIds, starts: startCount ?? 0, rounds: kind }).map((combination) => ({ ...combination, how }))
  const order = own ?? drawn(turned)
  const suite = suites.find(({ id }) => id === suiteId)
  const runs = suite === undefined ? workloadIds : [...new Set(suite.items.map(({ workloadId }) => workloadId))]
  const cost = costOfOrder(order, inRig, costOf)
  const problems = {
    tunes: tuneIds.length === 0 ? 'Choose at least one tune.' : undefined,
    samples: wantedSamples.length === 0 ? `Choose at least one sample for the slot "${slot}".` : undefined,
    workloads: runs.length === 0 ? 'Choose at least one workload.' : undefined,
    starts: startCount === undefined ? `Starts must be a whole number from 1 to ${MOST_STARTS}; got "${starts}".` : undefined,
    repeats: repeatCount === undefined ? `Repeats must be a whole number from 1 to ${MOST_REPEATS}; got "${repeats}".` : undefined,
    order: order.length > MOST_ON_SHEET ? `A sheet holds at most ${MOST_ON_SHEET} starts; these are ${order.length}.` : undefined,
  }
  const sound = Object.values(problems).every((problem) => problem === undefined) && rigId !== ''
  const shown = (problem: string | undefined): string | undefined => (tried ? problem : undefined)
  const afresh = <Value,>(set: (value: Value) => void) => (value: Value): void => {
    set(value)
    setOwn(null)
  }

  const save = (): void => {
    setTried(true)
    if (!sound || repeatCount === undefined || apply.isPending) return
    const sheet: Sheet = {
      kind: 'sheet', id: newId(), name: name.trim() === '' ? 'A sheet' : name.trim(), rigId, at: new Date().toISOString(), ...(suite === undefined ? {} : { suiteId: suite.id }),
      workloadIds: [...runs], repeats: repeatCount, starts: [...plannedStarts(order, slot, newId)], conditions: last?.rigId === rigId ? last.conditions : {},
    }
    apply.mutate({ what: `Made the sheet "${sheet.name}": ${counted(order.length, 'start')}`, items: [{ before: null, after: sheet }] }, { onSuccess: () => void navigate({ to: '/runs/enter', search: { sheet: sheet.id } }) })
  }
  return (
    <form
      className="form make-sheet"
      onSubmit={(event) => {
        event.preventDefault()
        save()
      }}
    >
      <TextField label="Name" value={name} onValue={setName} />
      {catalogue.rigs.length > 1 ? <ChoiceField label="Rig" value={rigId} choices={catalogue.rigs.map(({ id, name: text }) => ({ value: id, text }))} onValue={afresh(setRigId)} /> : null}
      <ChoiceField label="Workloads" value={suiteId} choices={[...suites.map(({ id, name: text, items }) => ({ value: id, text: `${text} (${items.length})` })), { value: '', text: 'chosen one by one' }]} onValue={setSuiteId} />
      {suite === undefined ? <PickList label="Which workloads, in the order in which they run" picks={workloads.map(({ id, name: text, preset }) => ({ id, text, ...(preset === undefined ? {} : { soft: preset }) }))} chosen={workloadIds} onChosen={setWorkloadIds} problem={shown(problems.workloads)} /> : null}
      <PickList label={one ? 'Tune' : 'Tunes'} picks={catalogue.tunes.map(({ id, name: text }) => ({ id, text }))} chosen={tuneIds} onChosen={afresh((ids: readonly string[]) => setTuneIds(one ? ids.slice(-1) : ids))} problem={shown(problems.tunes)} />
      <ChoiceField label="What is compared sits in the slot" value={slot} choices={slotSchema.options.map((value) => ({ value, text: value }))} onValue={afresh((value: string) => setSlot(slotSchema.parse(value)))} />
      <PickList
        label={one ? 'Sample' : 'Samples'}
        picks={ofSlot.map(({ id, status }) => ({ id, text: names.sample(id), ...(inRig.has(id) ? { soft: 'in the rig' } : status === 'wet' ? { soft: 'wet' } : {}) }))}
        chosen={wantedSamples}
        onChosen={afresh((ids: readonly string[]) => setSampleIds(one ? ids.slice(-1) : ids))}
        problem={shown(problems.samples)}
      />
      <div className="make-numbers">
        {one ? null : <TextField label="Starts of each" figure value={starts} onValue={afresh(setStarts)} problem={shown(problems.starts)} />}
        <TextField label="Repeats" figure value={repeats} onValue={setRepeats} problem={shown(problems.repeats)} />
        <ChoiceField label="How" value={how} choices={startHowSchema.options.map((value) => ({ value, text: value }))} onValue={afresh((value: string) => setHow(startHowSchema.parse(value)))} />
        {one || chosen.length < 2 || (startCount ?? 1) < 2 ? null : (
          <ChoiceField
            label="Samples are put in"
            value={turned}
            choices={ROUNDS.map((value) => ({ value, text: `${ROUND_WORDS[value]} (${minutesText(costOfOrder(drawn(value), inRig, costOf).handMinutes)} by hand)` }))}
            onValue={(value) => afresh(setRounds)(ROUNDS.find((kind) => kind === value) ?? 'once')}
          />
        )}
      </div>
      {order.length === 0 ? null : (
        <p className="make-cost">
          {counted(order.length, 'start')} with {counted(order.length * runs.length * (repeatCount ?? 0), 'run')}: {counted(cost.powerOns, 'power-on')}, {counted(cost.sampleChanges, 'sample change')}, {counted(cost.tuneChanges, 'tune change')}; <b>{minutesText(cost.handMinutes)} by hand</b>, {minutesText(cost.machineMinutes)} of the machine, without the runs.
        </p>
      )}
      {tried && problems.order !== undefined ? <p className="problem">{problems.order}</p> : null}
      {tried && !sound ? <p className="problem" role="alert">{Object.values(problems).find((problem) => problem !== undefined) ?? 'There is no rig yet; make one on the Rigs page.'}</p> : null}
      {apply.isError ? <Failed error={apply.error} /> : null}
      <div className="buttons">
        <button type="submit" className="button button-main" disabled={apply.isPending}>
          {one ? 'Enter its runs' : 'Save the sheet and begin'}
        </button>
      </div>
      {order.length < 2 ? null : <OrderList order={order} names={names} onMove={(from, by) => setOwn(moved(order, from, by))} onTake={(place) => setOwn(order.toSpliced(place, 1))} onHow={(place, next) => setOwn(order.with(place, { ...order[place], how: next }))} />}
    </form>
  )
}

const ROUNDS: readonly Rounds[] = ['once', 'there and back', 'every round']
const ROUND_WORDS: Readonly<Record<Rounds, string>> = { once: 'once each', 'there and back': 'there and back', 'every round': 'anew for every round' }
/** As the record allows. */
const MOST_REPEATS = 100
const MOST_ON_SHEET = 1000
const MOST_STARTS = 100

function wholeNumber(text: string, most: number): number | undefined {
  const value = /^\d+$/.test(text.trim()) ? Number(text) : 0
  return value >= 1 && value <= most ? value : undefined
}

const dayName = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', hour: '2-digit', minute: '2-digit' })
