// Adds a bin or changes one: its name, price, and what a sample must have shown.
import { useState, type ReactNode } from 'react'
import type { Bin, BinCriterion, Part } from '@guardband/model/records/parts'
import type { Workload } from '@guardband/model/records/workload'
import { unitText } from '@guardband/model/units'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { ChoiceField, TextField, type Choice } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { figureProblem, typedFigure } from '../../pieces/typed-figure.ts'
import { dayMoment, today } from './moments.ts'

interface Draft {
  readonly key: string
  readonly what: 'measure' | 'clean runs'
  /** A workload and one of its measures, or a workload alone, or any. */
  readonly workloadId: string
  readonly measure: string
  readonly tuneId: string
  readonly bound: 'at least' | 'at most'
  readonly figure: string
}

export function BinDialog({ part, bin, onClose }: { readonly part: Part; readonly bin?: Bin; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const workloads = useHub('workloads').data?.workloads ?? []
  const tunes = useHub('tunes').data?.rows ?? []
  const currency = useHub('lab').data?.lab.currency ?? ''
  const [name, setName] = useState(bin?.name ?? '')
  const [price, setPrice] = useState('')
  const [drafts, setDrafts] = useState<readonly Draft[]>(() => (bin?.criteria ?? []).map(draftOf))
  const [tried, setTried] = useState(false)
  const problems = drafts.map((draft) => draftProblem(draft))
  const nameProblem = name.trim() === '' ? 'A bin needs a name.' : undefined
  const priceProblem = figureProblem(price, { name: 'The price', least: 0 })
  const put = (key: string, changed: Partial<Draft>): void => setDrafts(drafts.map((draft) => (draft.key === key ? { ...draft, ...changed } : draft)))
  const send = (): void => {
    setTried(true)
    if (nameProblem !== undefined || priceProblem !== undefined || problems.some((problem) => problem !== undefined)) return
    const amount = typedFigure(price)
    const base: Bin = bin ?? { kind: 'bin', id: newId(), name: '', partId: part.id, prices: [], criteria: [] }
    const after: Bin = { ...base, name: name.trim(), criteria: drafts.map(criterionOf), ...(typeof amount === 'number' ? { prices: [...base.prices, { amount, at: dayMoment(today(new Date())) }] } : {}) }
    apply.mutate({ what: bin === undefined ? `Added the bin ${after.name} of ${part.name}` : `Changed the bin ${after.name} of ${part.name}`, items: [{ before: bin ?? null, after }] }, { onSuccess: onClose })
  }
  return (
    <FormDialog title={bin === undefined ? `Add a bin of ${part.name}` : `Change the bin ${bin.name}`} act={bin === undefined ? 'Add it' : 'Keep'} busy={apply.isPending} error={apply.error} onClose={onClose} onSend={send}>
      <TextField label="Name" value={name} onValue={setName} problem={tried ? nameProblem : undefined} />
      {bin === undefined ? <TextField label={`Price today${currency === '' ? '' : `, ${currency}`}`} figure value={price} onValue={setPrice} problem={priceProblem} /> : null}
      <fieldset className="criteria">
        <legend>What a sample must have shown</legend>
        {drafts.length === 0 ? <p className="hint">Nothing yet: every sample may go into it.</p> : null}
        <ol>
          {drafts.map((draft, place) => (
            <li key={draft.key}>
              <CriterionFields draft={draft} workloads={workloads} tunes={tunes.map(({ tune }) => ({ value: tune.id, text: tune.name }))} problem={tried ? problems[place] : undefined} onPut={(changed) => put(draft.key, changed)} />
              <button type="button" className="button-quiet" onClick={() => setDrafts(drafts.filter(({ key }) => key !== draft.key))} aria-label={`Take out criterion ${place + 1}`}>
                Take out
              </button>
            </li>
          ))}
        </ol>
        <div className="buttons">
          <button type="button" className="button" disabled={workloads.length === 0} onClick={() => setDrafts([...drafts, newDraft('measure', workloads)])}>
            Ask for a figure
          </button>
          <button type="button" className="button" disabled={tunes.length === 0} onClick={() => setDrafts([...drafts, { ...newDraft('clean runs', workloads), tuneId: tunes[0]?.tune.id ?? '' }])}>
            Ask for clean runs
          </button>
        </div>
        {workloads.length === 0 ? <p className="hint">Figures and clean runs are of workloads; there is none yet. They come with the first runs.</p> : null}
      </fieldset>
    </FormDialog>
  )
}

function CriterionFields(props: { readonly draft: Draft; readonly workloads: readonly Workload[]; readonly tunes: readonly Choice[]; readonly problem: string | undefined; readonly onPut: (changed: Partial<Draft>) => void }): ReactNode {
  const { draft, workloads, tunes, problem, onPut } = props
  if (draft.what === 'clean runs') {
    return (
      <div className="criterion">
        <TextField label="Clean runs" figure value={draft.figure} onValue={(figure) => onPut({ figure })} problem={problem} hint="One failure is enough to miss it." />
        <ChoiceField label="of" value={draft.workloadId} choices={[{ value: '', text: 'any workload' }, ...workloads.map(({ id, name }) => ({ value: id, text: name }))]} onValue={(workloadId) => onPut({ workloadId })} />
        <ChoiceField label="at" value={draft.tuneId} choices={tunes} onValue={(tuneId) => onPut({ tuneId })} />
      </div>
    )
  }
  const measures = workloads.flatMap(({ id, name, measures: of }) => of.map((measure) => ({ value: `${id} ${measure.name}`, text: `${measure.name} of ${name}${unitText(measure.unit) === '' ? '' : `, ${unitText(measure.unit)}`}` })))
  return (
    <div className="criterion">
      <ChoiceField
        label="Figure"
        value={`${draft.workloadId} ${draft.measure}`}
        choices={measures}
        onValue={(value) => {
          const blank = value.indexOf(' ')
          onPut({ workloadId: value.slice(0, blank), measure: value.slice(blank + 1) })
        }}
      />
      <ChoiceField label="must be" value={draft.bound} choices={BOUNDS} onValue={(bound) => onPut({ bound: bound === 'at most' ? 'at most' : 'at least' })} />
      <TextField label="this" figure value={draft.figure} onValue={(figure) => onPut({ figure })} problem={problem} />
      <ChoiceField label="at" value={draft.tuneId} choices={[{ value: '', text: 'any tune' }, ...tunes]} onValue={(tuneId) => onPut({ tuneId })} />
    </div>
  )
}

const BOUNDS: readonly Choice[] = [
  { value: 'at least', text: 'at least' },
  { value: 'at most', text: 'at most' },
]

function newDraft(what: Draft['what'], workloads: readonly Workload[]): Draft {
  const measure = workloads[0]?.measures[0]
  const lower = measure?.direction === 'lower is better'
  return { key: newId(), what, workloadId: what === 'measure' ? (workloads[0]?.id ?? '') : '', measure: measure?.name ?? '', tuneId: '', bound: lower ? 'at most' : 'at least', figure: '' }
}

function draftOf(criterion: BinCriterion): Draft {
  const shared = { key: newId(), what: criterion.what, workloadId: criterion.workloadId ?? '', tuneId: criterion.tuneId ?? '' }
  return criterion.what === 'measure'
    ? { ...shared, measure: criterion.measure, bound: criterion.bound, figure: String(criterion.value) }
    : { ...shared, measure: '', bound: 'at least', figure: String(criterion.count) }
}

function draftProblem(draft: Draft): string | undefined {
  if (draft.what === 'measure') return figureProblem(draft.figure, { name: 'The figure', needed: true })
  const count = typedFigure(draft.figure)
  return figureProblem(draft.figure, { name: 'The count', needed: true, least: 1 }) ?? (Number.isInteger(count) ? undefined : `The count must be a whole number; got ${draft.figure.trim()}.`)
}

/** Call when the draft has no problem. */
function criterionOf(draft: Draft): BinCriterion {
  const figure = typedFigure(draft.figure) ?? 0
  const workload = draft.workloadId === '' ? {} : { workloadId: draft.workloadId }
  if (draft.what === 'clean runs') return { what: 'clean runs', tuneId: draft.tuneId, count: figure, ...workload }
  return { what: 'measure', workloadId: draft.workloadId, measure: draft.measure, bound: draft.bound, value: figure, ...(draft.tuneId === '' ? {} : { tuneId: draft.tuneId }) }
}
