// Workloads: what is run and what each measures.
import { useState, type ReactNode } from 'react'
import { counted, exact } from '@guardband/model/figures'
import type { Measure, Workload } from '@guardband/model/records/workload'
import { unitText } from '@guardband/model/units'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { ChoiceField, TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { RowFields } from '../../pieces/row-fields.tsx'
import { figureProblem, typedFigure } from '../../pieces/typed-figure.ts'
import { MarginNote } from '../../shell/page.tsx'
import { Empty, Loaded } from '../../shell/states.tsx'
import { LabFrame } from './lab-frame.tsx'

export function LabWorkloadsPage(): ReactNode {
  const query = useHub('workloads')
  const [chosen, setChosen] = useState<Workload | 'new' | null>(null)
  const workloads = query.data?.workloads
  return (
    <LabFrame
      name="Workloads"
      headline={workloads === undefined ? 'Workloads' : workloads.length === 0 ? 'No workloads yet.' : `${counted(workloads.length, 'workload')}, ${counted(workloads.reduce((sum, { measures }) => sum + measures.length, 0), 'measure')}.`}
      meta={
        <button type="button" className="button button-main" onClick={() => setChosen('new')}>
          Add a workload
        </button>
      }
      margin={
        <MarginNote title="One workload, one thing">
          <p>Another version, preset or thread count gives other figures: it is a workload of its own, so that nothing unlike is averaged.</p>
          <p>A measure that runs hold keeps its name and its unit: else what was recorded would say something else.</p>
        </MarginNote>
      }
    >
      <Loaded query={query} what="the workloads">
        {(reply) =>
          reply.workloads.length === 0 ? (
            <Empty>
              <p>A workload is something that you run and that gives a figure: a render, a build, a pass over memory. Add those of your bench, or take in runs that name them.</p>
            </Empty>
          ) : (
            <Ledger
              label="Workloads"
              columns={[
                { header: 'workload', render: (workload) => workload.name },
                { header: 'group', render: (workload) => workload.group ?? '', empty: (workload) => workload.group === undefined },
                { header: 'measures', wide: true, render: (workload) => <Measures measures={workload.measures} /> },
                { header: 'version', render: versionText, empty: (workload) => versionText(workload) === '' },
                {
                  header: 'edit',
                  unseen: true,
                  render: (workload) => (
                    <button type="button" className="button-quiet" onClick={() => setChosen(workload)} aria-label={`Change ${workload.name}`}>
                      Change
                    </button>
                  ),
                },
              ]}
              rows={reply.workloads}
              keyOf={(workload) => workload.id}
            />
          )
        }
      </Loaded>
      {chosen === null ? null : <WorkloadDialog workload={chosen === 'new' ? null : chosen} onClose={() => setChosen(null)} />}
    </LabFrame>
  )
}

function Measures({ measures }: { readonly measures: readonly Measure[] }): ReactNode {
  return (
    <ul className="plain">
      {measures.map((measure) => (
        <li key={measure.name}>
          {measure.name}
          {unitText(measure.unit) === '' ? '' : `, ${unitText(measure.unit)}`} <small className="inline">{[measure.direction, ...(measure.resolution === undefined ? [] : [`steps of ${exact(measure.resolution)}`])].join(' · ')}</small>
        </li>
      ))}
    </ul>
  )
}

function versionText({ version, preset, threads }: Workload): string {
  return [version, preset, threads === undefined ? undefined : counted(threads, 'thread')].filter((part) => part !== undefined).join(' \u00b7 ')
}

interface MeasureRow {
  readonly key: string
  readonly name: string
  readonly unit: string
  readonly direction: Measure['direction']
  readonly resolution: string
  readonly matters: string
}

function WorkloadDialog({ workload, onClose }: { readonly workload: Workload | null; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const [name, setName] = useState(workload?.name ?? '')
  const [group, setGroup] = useState(workload?.group ?? '')
  const [version, setVersion] = useState(workload?.version ?? '')
  const [preset, setPreset] = useState(workload?.preset ?? '')
  const [threads, setThreads] = useState(workload?.threads === undefined ? '' : String(workload.threads))
  const [measures, setMeasures] = useState<readonly MeasureRow[]>(() => (workload === null ? [emptyMeasure()] : workload.measures.map(rowOf)))
  const problem =
    (name.trim() === '' ? 'A workload needs a name.' : undefined) ??
    figureProblem(threads, { name: 'Threads', above: 0 }) ??
    (Number.isInteger(typedFigure(threads) ?? 1) ? undefined : `Threads must be a whole number; got ${threads}.`) ??
    measures.map(measureProblem).find((sentence) => sentence !== undefined) ??
    (new Set(measures.map((measure) => measure.name.trim())).size < measures.length ? 'Two measures have the same name; give one of them another.' : undefined)
  return (
    <FormDialog
      title={workload === null ? 'A workload' : workload.name}
      act={workload === null ? 'Add it' : 'Keep'}
      busy={apply.isPending}
      error={apply.error}
      problem={problem}
      onClose={onClose}
      onSend={() => {
        const count = typedFigure(threads)
        const after: Workload = {
          kind: 'workload',
          id: workload?.id ?? newId(),
          name: name.trim(),
          measures: measures.map(measureOf),
          ...(group.trim() === '' ? {} : { group: group.trim() }),
          ...(version.trim() === '' ? {} : { version: version.trim() }),
          ...(preset.trim() === '' ? {} : { preset: preset.trim() }),
          ...(count == null ? {} : { threads: count }),
          ...(workload?.inputHash === undefined ? {} : { inputHash: workload.inputHash }),
          ...(workload?.note === undefined ? {} : { note: workload.note }),
        }
        apply.mutate({ what: `${workload === null ? 'Added' : 'Changed'} workload "${after.name}"`, items: [{ before: workload, after }] }, { onSuccess: onClose })
      }}
    >
      <div className="sides">
        <TextField label="Name" value={name} onValue={setName} />
        <TextField label="Group" hint="Answers sum up by group: all cores, one core." value={group} onValue={setGroup} maxLength={100} />
        <TextField label="Version" value={version} onValue={setVersion} maxLength={100} />
        <TextField label="Preset or scene" value={preset} onValue={setPreset} />
        <TextField label="Threads" hint="May stay empty." value={threads} onValue={setThreads} figure />
      </div>
      <RowFields
        legend="What it measures"
        what="measure"
        rows={measures}
        make={emptyMeasure}
        onRows={setMeasures}
        render={(row, put) => (
          <>
            <TextField label="Measure" value={row.name} onValue={(value) => put({ name: value })} />
            <TextField label="Unit" value={row.unit} onValue={(value) => put({ unit: value })} maxLength={20} />
            <ChoiceField label="Better is" value={row.direction} choices={DIRECTIONS} onValue={(value) => put({ direction: value === 'lower is better' ? value : 'higher is better' })} />
            <TextField label="In steps of" value={row.resolution} onValue={(value) => put({ resolution: value })} figure />
            <TextField label="Matters from" value={row.matters} onValue={(value) => put({ matters: value })} figure />
          </>
        )}
      />
      <p className="hint">In what steps it prints and from what difference on it matters may stay empty; the latter is in percent for scores and times, in the unit itself for degrees and decibels.</p>
    </FormDialog>
  )
}

const DIRECTIONS = [
  { value: 'higher is better', text: 'higher' },
  { value: 'lower is better', text: 'lower' },
]

function emptyMeasure(): MeasureRow {
  return { key: newId(), name: '', unit: '', direction: 'higher is better', resolution: '', matters: '' }
}

function rowOf(measure: Measure): MeasureRow {
  return { key: newId(), name: measure.name, unit: measure.unit, direction: measure.direction, resolution: measure.resolution === undefined ? '' : String(measure.resolution), matters: measure.matters === undefined ? '' : String(measure.matters) }
}

function measureProblem({ name, unit, resolution, matters }: MeasureRow): string | undefined {
  if (name.trim() === '') return 'Each measure needs a name: score, time, average power.'
  if (unit.trim() === '') return `${name.trim()} needs a unit: s, W, degC, points.`
  return figureProblem(resolution, { name: `The steps of ${name.trim()}`, above: 0 }) ?? figureProblem(matters, { name: `The smallest difference of ${name.trim()} that matters`, above: 0 })
}

function measureOf({ name, unit, direction, resolution, matters }: MeasureRow): Measure {
  const steps = typedFigure(resolution)
  const least = typedFigure(matters)
  return { name: name.trim(), unit: unit.trim(), direction, ...(steps == null ? {} : { resolution: steps }), ...(least == null ? {} : { matters: least }) }
}
