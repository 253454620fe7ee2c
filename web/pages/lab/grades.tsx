// Grades: named levels of holding up, and the evidence that each asks for.
import { useState, type ReactNode } from 'react'
import type { z } from 'zod'
import { counted, exact } from '@guardband/model/figures'
import type { gradeSchema, Workload } from '@guardband/model/records/workload'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { useHub } from '../../hub/queries.ts'
import { useRecords } from '../../hub/use-records.ts'
import { ChoiceField, TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { RowFields } from '../../pieces/row-fields.tsx'
import { figureProblem, typedFigure } from '../../pieces/typed-figure.ts'
import { MarginNote } from '../../shell/page.tsx'
import { Empty, Loaded } from '../../shell/states.tsx'
import { LabFrame } from './lab-frame.tsx'

type Grade = z.infer<typeof gradeSchema>
type Requirement = Grade['requires'][number]

export function LabGradesPage(): ReactNode {
  const { query, records } = useRecords('grade')
  const workloads = useHub('workloads').data?.workloads ?? []
  const [chosen, setChosen] = useState<Grade | 'new' | null>(null)
  return (
    <LabFrame
      name="Grades"
      headline={records === undefined ? 'Grades' : records.length === 0 ? 'No grade yet.' : `${counted(records.length, 'grade')} of holding up.`}
      meta={
        <button type="button" className="button button-main" onClick={() => setChosen('new')}>
          Make a grade
        </button>
      }
      margin={
        <MarginNote title="A promise needs a measure">
          <p>A grade says what must have been seen before a setting may be said to hold up. The same grade for every sample keeps the promise the same.</p>
        </MarginNote>
      }
    >
      <Loaded query={query} what="the grades">
        {() =>
          records === undefined || records.length === 0 ? (
            <Empty>
              <p>Name the levels that you work with, "starts cold", "finishes the suite", "always on", and say what each takes: so many cold starts, so many hours without an error.</p>
            </Empty>
          ) : (
            <Ledger
              label="Grades"
              columns={[
                { header: 'grade', render: (grade) => grade.name },
                { header: 'asks for', wide: true, render: (grade) => <Requirements grade={grade} workloads={workloads} /> },
                {
                  header: 'edit',
                  unseen: true,
                  render: (grade) => (
                    <button type="button" className="button-quiet" onClick={() => setChosen(grade)} aria-label={`Change ${grade.name}`}>
                      Change
                    </button>
                  ),
                },
              ]}
              rows={records}
              keyOf={(grade) => grade.id}
            />
          )
        }
      </Loaded>
      {chosen === null ? null : <GradeDialog grade={chosen === 'new' ? null : chosen} workloads={workloads} onClose={() => setChosen(null)} />}
    </LabFrame>
  )
}

function Requirements({ grade, workloads }: { readonly grade: Grade; readonly workloads: readonly Workload[] }): ReactNode {
  if (grade.requires.length === 0) return <span className="soft">nothing yet</span>
  return (
    <ul className="plain">
      {grade.requires.map((requirement) => (
        <li key={`${requirement.what}|${requirement.workloadId ?? ''}`}>{requirementText(requirement, workloads)}</li>
      ))}
    </ul>
  )
}

function requirementText({ what, count, workloadId }: Requirement, workloads: readonly Workload[]): string {
  const of = workloadId === undefined ? '' : ` of ${workloads.find(({ id }) => id === workloadId)?.name ?? 'a workload no longer here'}`
  return `${exact(count)} ${count === 1 ? ONE[what] : what === 'clean suite' ? 'clean suites' : what}${of}`
}

interface RequirementRow {
  readonly key: string
  readonly what: Requirement['what']
  readonly count: string
  readonly workloadId: string
}

/** Each kind of evidence where one of it is asked for. */
const ONE: Readonly<Record<Requirement['what'], string>> = {
  'cold starts': 'cold start', 'warm starts': 'warm start', 'clean suite': 'clean suite', 'clean hours': 'clean hour', 'clean passes over memory': 'clean pass over memory',
}

const WHATS: readonly Requirement['what'][] = ['cold starts', 'warm starts', 'clean suite', 'clean hours', 'clean passes over memory']

function GradeDialog({ grade, workloads, onClose }: { readonly grade: Grade | null; readonly workloads: readonly Workload[]; readonly onClose: () => void }): ReactNode {
  const apply = useApply()
  const [name, setName] = useState(grade?.name ?? '')
  const [rows, setRows] = useState<readonly RequirementRow[]>(() =>
    grade === null || grade.requires.length === 0 ? [emptyRow()] : grade.requires.map(({ what, count, workloadId }) => ({ key: newId(), what, count: String(count), workloadId: workloadId ?? '' })),
  )
  const problem = (name.trim() === '' ? 'A grade needs a name.' : undefined) ?? rows.map((row) => figureProblem(row.count, { name: `How many ${row.what}`, needed: true, above: 0 })).find((sentence) => sentence !== undefined)
  return (
    <FormDialog
      title={grade === null ? 'A grade' : grade.name}
      act={grade === null ? 'Make it' : 'Keep'}
      busy={apply.isPending}
      error={apply.error}
      problem={problem}
      onClose={onClose}
      onSend={() => {
        const requires = rows.map(({ what, count, workloadId }) => ({ what, count: typedFigure(count) ?? 1, ...(workloadId === '' ? {} : { workloadId }) }))
        const after: Grade = { kind: 'grade', id: grade?.id ?? newId(), name: name.trim(), requires, ...(grade?.note === undefined ? {} : { note: grade.note }) }
        apply.mutate({ what: `${grade === null ? 'Made' : 'Changed'} grade "${after.name}"`, items: [{ before: grade, after }] }, { onSuccess: onClose })
      }}
    >
      <TextField label="Name" value={name} onValue={setName} />
      <RowFields
        legend="What must have been seen"
        what="requirement"
        rows={rows}
        make={emptyRow}
        onRows={setRows}
        render={(row, put) => (
          <>
            <TextField label="How many" value={row.count} onValue={(count) => put({ count })} figure />
            <ChoiceField label="Of what" value={row.what} choices={WHATS.map((what) => ({ value: what, text: what }))} onValue={(value) => put({ what: WHATS.find((what) => what === value) ?? row.what })} />
            <ChoiceField label="With" value={row.workloadId} choices={[{ value: '', text: 'any workload' }, ...workloads.map(({ id, name: text }) => ({ value: id, text }))]} onValue={(workloadId) => put({ workloadId })} />
          </>
        )}
      />
    </FormDialog>
  )
}

function emptyRow(): RequirementRow {
  return { key: newId(), what: 'cold starts', count: '', workloadId: '' }
}
