// What a change-over costs: set by a person, else learned from the log, else the house's own figures.
import { useState, type ReactNode } from 'react'
import type { ChangeOverRow } from '@guardband/model/api/runs'
import { exact, fixed } from '@guardband/model/figures'
import type { Cost } from '@guardband/model/records/lab'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { figureProblem, typedFigure } from '../../pieces/typed-figure.ts'
import { MarginNote } from '../../shell/page.tsx'
import { Loaded } from '../../shell/states.tsx'
import { LabFrame } from './lab-frame.tsx'

export function LabCostsPage(): ReactNode {
  const costs = useHub('changeOvers')
  const [chosen, setChosen] = useState<ChangeOverRow | null>(null)
  return (
    <LabFrame
      name="Change-overs"
      headline={costs.data === undefined ? 'Change-overs' : headline(costs.data.rows)}
      margin={
        <MarginNote title="Two kinds of minutes">
          <p>A person's minutes are dear, a machine's pass by themselves. Every plan, and what would settle an answer, is priced in both.</p>
          <p>The log knows the gap between the end of one start's runs and the next start on that rig. Gaps over two hours are pauses and not counted.</p>
        </MarginNote>
      }
    >
      <Loaded query={costs} what="the costs">
        {({ rows }) => (
          <Ledger
            label="What a change-over costs"
            columns={[
              { header: 'change-over', render: (row) => row.of },
              { header: 'by hand, min', align: 'number', render: (row) => (row.hand === null ? '' : exact(row.hand)), empty: (row) => row.hand === null },
              { header: 'machine, min', align: 'number', render: (row) => (row.machine === null ? '' : exact(row.machine)), empty: (row) => row.machine === null },
              { header: 'known from', render: (row) => FROM[row.from] },
              { header: 'gaps in the log', align: 'number', empty: (row) => row.gaps.count === 0, render: (row) => (row.gaps.count === 0 ? '' : row.gaps.count) },
              { header: 'their median, min', align: 'number', empty: (row) => row.gaps.median === null, render: (row) => (row.gaps.median === null ? '' : fixed(row.gaps.median, 1)) },
              {
                header: 'set',
                unseen: true,
                render: (row) => (
                  <button type="button" className="button-quiet" onClick={() => setChosen(row)} aria-label={`${row.cost === null ? 'Set' : 'Change'} the cost of a ${row.of}`}>
                    {row.cost === null ? 'Set' : 'Change'}
                  </button>
                ),
              },
            ]}
            rows={rows}
            keyOf={(row) => row.of}
          />
        )}
      </Loaded>
      {chosen === null ? null : <CostDialog row={chosen} onClose={() => setChosen(null)} />}
    </LabFrame>
  )
}

const FROM: Readonly<Record<ChangeOverRow['from'], string>> = { person: 'set by a person', log: 'the log', default: 'the house figure', 'not used': 'not known; no plan uses it yet' }

function headline(rows: readonly ChangeOverRow[]): string {
  const set = rows.filter((row) => row.from === 'person').length
  if (set === rows.length) return 'What a change-over costs is set for every kind.'
  const learned = rows.filter((row) => row.from === 'log').length
  if (set === 0 && learned === 0) return 'Bench time is priced with the house figures.'
  const parts = [...(set === 0 ? [] : [`${set} set by a person`]), ...(learned === 0 ? [] : [`${learned} learned from the log`])]
  return `Of ${rows.length} kinds of change-over, ${parts.join(' and ')}.`
}

function CostDialog({ row, onClose }: { readonly row: ChangeOverRow; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const [hand, setHand] = useState(row.hand === null ? '' : String(row.hand))
  const [machine, setMachine] = useState(row.machine === null ? '' : String(row.machine))
  const { cost } = row
  const problem = figureProblem(hand, { name: 'Minutes by hand', needed: true, least: 0 }) ?? figureProblem(machine, { name: 'Machine minutes', needed: true, least: 0 })
  return (
    <FormDialog
      title={`What a ${row.of} costs`}
      explain="Answers that price bench time are worked out anew with it."
      act="Keep"
      busy={apply.isPending}
      error={apply.error}
      problem={problem}
      onClose={onClose}
      onSend={() => {
        const after: Cost = { kind: 'cost', id: cost?.id ?? newId(), of: row.of, handMinutes: typedFigure(hand) ?? 0, machineMinutes: typedFigure(machine) ?? 0 }
        const what = `A ${row.of} costs ${exact(after.handMinutes)} min by hand, ${exact(after.machineMinutes)} min of machine`
        apply.mutate({ what, items: [{ before: cost, after }] }, { onSuccess: onClose })
      }}
    >
      <TextField label="Minutes by hand" value={hand} onValue={setHand} figure />
      <TextField label="Machine minutes" value={machine} onValue={setMachine} figure />
      {cost === null ? null : (
        <p>
          <button
            type="button"
            className="button-quiet"
            onClick={() => apply.mutate({ what: `The cost of a ${row.of} is no longer set by a person`, items: [{ before: cost, after: null }] }, { onSuccess: onClose })}
          >
            Let the log or the house figure say it again
          </button>
        </p>
      )}
    </FormDialog>
  )
}
