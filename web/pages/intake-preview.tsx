// What would come in: the first runs as they will be booked, every line of the file accounted for, and what was left out.
import type { ReactNode } from 'react'
import type { IntakeChoices, IntakeReply } from '@guardband/model/api'
import { counted, exact, fixed } from '@guardband/model/figures'
import { unitText } from '@guardband/model/units'
import { Ledger } from '../pieces/ledger.tsx'
import { When } from '../pieces/when.tsx'

export function IntakePreview({ reply }: { readonly reply: IntakeReply }): ReactNode {
  if (reply.booked.length === 0) return null
  const timed = reply.booked.some(({ at }) => at !== null)
  return (
    <>
      <h3>The first {reply.booked.length === 1 ? 'run' : `${fixed(reply.booked.length, 0)} runs`}, as they will be booked</h3>
      <Ledger
        label="First runs"
        rows={reply.booked.map((row, index) => ({ ...row, key: String(index) }))}
        keyOf={({ key }) => key}
        columns={[
          { header: 'line', align: 'number', render: ({ line }) => fixed(line, 0) },
          { header: 'sample', render: ({ sample }) => sample },
          { header: 'tune, start', render: ({ tune, start, rig }) => `${tune}, start ${start} (${rig})` },
          { header: 'workload', render: ({ workload }) => workload },
          { header: 'result', render: ({ measures, outcome }) => (measures.length === 0 ? outcome : `${measures.map(({ name, value, unit }) => `${name} ${exact(value)} ${unitText(unit)}`.trim()).join(', ')}${outcome === 'scored' || outcome === 'passed' ? '' : `, ${outcome}`}`) },
          ...(timed ? [{ header: 'when', render: ({ at }: { readonly at: string | null }) => (at === null ? '' : <When at={at} />) }] : []),
        ]}
      />
    </>
  )
}

/** Every line stands in one of the sums. */
export function LineSum({ reply }: { readonly reply: IntakeReply }): ReactNode {
  const { all, head, blank, taken, leftOut, rejected } = reply.lineCount
  const parts = [[head, 'before the runs'], [blank, 'blank'], [taken, 'taken'], [leftOut, 'left out'], [rejected, 'with a problem']] as const
  return (
    <p className="soft">
      {counted(all, 'line')} = {parts.filter(([count]) => count > 0).map(([count, what]) => `${fixed(count, 0)} ${what}`).join(' + ')}.
    </p>
  )
}

export function LeftOut({ reply }: { readonly reply: IntakeReply }): ReactNode {
  if (reply.leftOut.length === 0) return null
  return (
    <details className="more">
      <summary>{counted(reply.lineCount.leftOut, 'line')} left out, and why</summary>
      <ul className="plain-list">
        {reply.leftOut.map(({ line, reason }) => (
          <li key={line}>
            line {fixed(line, 0)}: {reason}
          </li>
        ))}
      </ul>
    </details>
  )
}

export function OutcomeWords({ reply, choices, outcomes, onChoices }: { readonly reply: IntakeReply; readonly choices: IntakeChoices; readonly outcomes: readonly string[]; readonly onChoices: (choices: IntakeChoices) => void }): ReactNode {
  const words = reply.reading?.outcomes ?? []
  if (words.length === 0) return null
  return (
    <details className="more" open>
      <summary>Words read as outcomes</summary>
      <Ledger
        label="Words read as outcomes"
        rows={words}
        keyOf={({ word }) => word}
        columns={[
          { header: 'word', render: ({ word }) => word },
          { header: 'times', align: 'number', render: ({ count }) => fixed(count, 0) },
          {
            header: 'means',
            render: ({ word, outcome }) => (
              <select
                aria-label={`What ${word} means`}
                value={outcome}
                onChange={(event) => {
                  // The options are outcomes.
                  const meant = { word, outcome: event.currentTarget.value as (typeof words)[number]['outcome'] }
                  onChoices({ ...choices, outcomes: [...(choices.outcomes ?? []).filter((said) => said.word !== word), meant] })
                }}
              >
                {outcomes.map((candidate) => (
                  <option key={candidate} value={candidate}>
                    {candidate}
                  </option>
                ))}
              </select>
            ),
          },
        ]}
      />
    </details>
  )
}
