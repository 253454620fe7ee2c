// Suites: which workloads count, how much, and in which order they are run.
import { useState, type ReactNode } from 'react'
import { counted, exact, fixed } from '@guardband/model/figures'
import type { Suite, Workload } from '@guardband/model/records/workload'
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
import { Link } from '@tanstack/react-router'
import { LabFrame } from './lab-frame.tsx'

export function LabSuitesPage(): ReactNode {
  const query = useHub('workloads')
  const [chosen, setChosen] = useState<Suite | 'new' | null>(null)
  const data = query.data
  return (
    <LabFrame
      name="Suites"
      headline={data === undefined ? 'Suites' : data.suites.length === 0 ? 'No suite yet.' : `${counted(data.suites.length, 'suite')} over ${counted(data.workloads.length, 'workload')}.`}
      meta={
        data === undefined || data.workloads.length === 0 ? undefined : (
          <button type="button" className="button button-main" onClick={() => setChosen('new')}>
            Make a suite
          </button>
        )
      }
      margin={
        <MarginNote title="Weights are shares">
          <p>A workload with twice the weight counts twice in the overall figure. Beside the weight stands its share of the whole.</p>
          <p>Weights are fixed before the runs: changed afterwards, every answer on the suite is worked out anew, and its report says with which.</p>
        </MarginNote>
      }
    >
      <Loaded query={query} what="the suites">
        {({ suites, workloads }) =>
          workloads.length === 0 ? (
            <Empty>
              <p>A suite weighs workloads; there are none yet.</p>
              <p>
                <Link className="button button-main" to="/lab/workloads">
                  Add a workload
                </Link>
              </p>
            </Empty>
          ) : suites.length === 0 ? (
            <Empty>
              <p>Every question is asked over a suite: the workloads that count for it, and how much each.</p>
            </Empty>
          ) : (
            suites.map((suite) => <SuiteSection key={suite.id} suite={suite} workloads={workloads} onEdit={() => setChosen(suite)} />)
          )
        }
      </Loaded>
      {chosen === null || data === undefined ? null : <SuiteDialog suite={chosen === 'new' ? null : chosen} workloads={data.workloads} onClose={() => setChosen(null)} />}
    </LabFrame>
  )
}

function SuiteSection({ suite, workloads, onEdit }: { readonly suite: Suite; readonly workloads: readonly Workload[]; readonly onEdit: () => void }): ReactNode {
  const all = suite.items.reduce((sum, { weight }) => sum + weight, 0)
  return (
    <section className="sheet">
      <h2 className="with-side">
        {suite.name}
        <span className="side">
          <button type="button" className="button-quiet" onClick={onEdit} aria-label={`Change ${suite.name}`}>
            Change
          </button>
        </span>
      </h2>
      <Ledger
        label={`Workloads of ${suite.name}`}
        columns={[
          { header: 'workload', render: (item) => workloads.find(({ id }) => id === item.workloadId)?.name ?? 'a workload no longer here' },
          { header: 'measure', render: (item) => item.measure },
          { header: 'weight', align: 'number', render: (item) => exact(item.weight) },
          { header: 'share, %', align: 'number', render: (item) => fixed((100 * item.weight) / all, 1) },
        ]}
        rows={suite.items}
        keyOf={(item) => `${item.workloadId}|${item.measure}`}
      />
    </section>
  )
}

interface ItemRow {
  readonly key: string
  /** Workload id and measure in one. */
  readonly what: string
  readonly weight: string
}

function SuiteDialog({ suite, workloads, onClose }: { readonly suite: Suite | null; readonly workloads: readonly Workload[]; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const choices = workloads.flatMap((workload) => workload.measures.map((measure) => ({ value: `${workload.id}|${measure.name}`, text: workload.measures.length === 1 ? workload.name : `${workload.name}, ${measure.name}` })))
  const [name, setName] = useState(suite?.name ?? '')
  const [items, setItems] = useState<readonly ItemRow[]>(() =>
    suite === null
      ? workloads.flatMap((workload) => workload.measures.slice(0, 1).map((measure) => ({ key: newId(), what: `${workload.id}|${measure.name}`, weight: '1' })))
      : suite.items.map((item) => ({ key: newId(), what: `${item.workloadId}|${item.measure}`, weight: String(item.weight) })),
  )
  const all = items.reduce((sum, item) => sum + (typedFigure(item.weight) ?? 0), 0)
  const problem =
    (name.trim() === '' ? 'A suite needs a name.' : undefined) ??
    items.map((item) => figureProblem(item.weight, { name: `The weight of ${choices.find(({ value }) => value === item.what)?.text ?? 'a workload'}`, needed: true, above: 0 })).find((sentence) => sentence !== undefined) ??
    (new Set(items.map((item) => item.what)).size < items.length ? 'One measure stands in it twice; take one out.' : undefined)
  return (
    <FormDialog
      title={suite === null ? 'A suite' : suite.name}
      act={suite === null ? 'Make it' : 'Keep'}
      busy={apply.isPending}
      error={apply.error}
      problem={problem}
      onClose={onClose}
      onSend={() => {
        const after: Suite = { kind: 'suite', id: suite?.id ?? newId(), name: name.trim(), items: items.map(itemOf), ...(suite?.note === undefined ? {} : { note: suite.note }) }
        apply.mutate({ what: `${suite === null ? 'Made' : 'Changed'} suite "${after.name}", ${counted(items.length, 'workload')}`, items: [{ before: suite, after }] }, { onSuccess: onClose })
      }}
    >
      <TextField label="Name" value={name} onValue={setName} />
      <RowFields
        legend="In the order in which they are run"
        what="workload"
        rows={items}
        make={() => ({ key: newId(), what: choices.find(({ value }) => !items.some((item) => item.what === value))?.value ?? choices[0]?.value ?? '', weight: '1' })}
        onRows={setItems}
        render={(row, put) => (
          <>
            <ChoiceField label="Workload" value={row.what} choices={choices} onValue={(what) => put({ what })} />
            <TextField label="Weight" value={row.weight} onValue={(weight) => put({ weight })} figure />
            <p className="share">
              <span className="soft">share</span> <span className="figure">{all > 0 && typedFigure(row.weight) != null ? `${fixed((100 * (typedFigure(row.weight) ?? 0)) / all, 1)} %` : '-'}</span>
            </p>
            <MoveButtons rows={items} row={row} onRows={setItems} />
          </>
        )}
      />
    </FormDialog>
  )
}

function MoveButtons({ rows, row, onRows }: { readonly rows: readonly ItemRow[]; readonly row: ItemRow; readonly onRows: (rows: readonly ItemRow[]) => void }): ReactNode {
  const place = rows.findIndex(({ key }) => key === row.key)
  if (place === 0) return null
  return (
    <button type="button" className="button-quiet" onClick={() => onRows(rows.with(place, rows[place - 1]).with(place - 1, row))} aria-label={`Run workload ${place + 1} one place earlier`}>
      Earlier
    </button>
  )
}

function itemOf({ what, weight }: ItemRow): Suite['items'][number] {
  const bar = what.indexOf('|')
  return { workloadId: what.slice(0, bar), measure: what.slice(bar + 1), weight: typedFigure(weight) ?? 1 }
}
