// The way from an empty workspace to a first answer; what the data show to be done is ticked off.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { LabInfo } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import { useHub } from '../hub/queries.ts'
import { NewLabButton } from '../pieces/new-lab.tsx'
import { RigCommands } from './rig-commands.tsx'

export function FirstSteps({ info }: { readonly info: LabInfo }): ReactNode {
  const { counts } = info
  const bundle = useHub('workloads').data
  const workloads = bundle?.workloads.length ?? 0
  const suites = bundle?.suites.length ?? 0
  const steps: readonly Step[] = [
    {
      title: 'Parts and samples',
      done: counts.samples > 0 ? counted(counts.samples, 'sample') : null,
      why: 'A part is a product, a sample the piece on the bench. How a sample was picked decides whether it speaks for others.',
      ways: <Link to="/parts">Put in parts and samples</Link>,
    },
    {
      title: 'Tunes',
      done: counts.tunes > 0 ? counted(counts.tunes, 'tune') : null,
      why: 'The settings that you compare, under a name. The machine as it comes is a tune too.',
      ways: <Link to="/tunes/new">Enter a tune</Link>,
    },
    {
      title: 'Workloads and a suite',
      done: workloads > 0 && suites > 0 ? `${counted(workloads, 'workload')}, ${counted(suites, 'suite')}` : null,
      why: workloads > 0 ? 'The workloads are there; a suite says how much each counts.' : 'What you run and what it measures, and how much each counts in the end.',
      ways: workloads > 0 ? <Link to="/lab/suites">Make a suite</Link> : <Link to="/lab/workloads">Add a workload</Link>,
    },
    {
      title: 'A rig',
      done: counts.rigs > 0 ? counted(counts.rigs, 'rig') : null,
      why: 'The station that the samples sit in, and since when: what else is in it belongs to every run.',
      ways: <Link to="/rigs">Set up a rig</Link>,
    },
    {
      title: 'Runs',
      done: counts.runs > 0 ? `${counted(counts.runs, 'run')} in ${counted(counts.starts, 'start')}` : null,
      why: 'Three starts of each side, two repeats in each, give a first interval.',
      ways: (
        <>
          <Link to="/runs/enter">Enter them as they happen</Link>
          <Link to="/runs/take">Take in a table</Link>
        </>
      ),
    },
    {
      title: 'Ask',
      done: counts.questions > 0 ? counted(counts.questions, 'question') : null,
      why: 'What is compared with what, and the smallest gain that would matter to you: fixed, with the time. Best before the first run; asked later, the answer says so.',
      ways: <Link to="/questions/ask">Ask a question</Link>,
    },
  ]
  const next = steps.findIndex((step) => step.done === null)
  return (
    <>
      {counts.runs > 0 ? null : (
        <p className="fresh">
          Do you have runs in a spreadsheet or a file? <Link to="/runs/take">Take in the table</Link>: it brings parts, samples, tunes and workloads along, and leaves you at the last step.
        </p>
      )}
      <ol className="steps">
        {steps.map((step, place) => (
          <li key={step.title} className={step.done === null ? (place === next ? 'step-next' : undefined) : 'step-done'}>
            <h2>
              {step.title}
              {step.done === null ? null : <small>{step.done}</small>}
            </h2>
            <p className="soft">{step.why}</p>
            {step.done !== null && place < next ? null : <p className={place === next ? 'ways ways-next' : 'ways'}>{step.ways}</p>}
          </li>
        ))}
      </ol>
      {counts.runs > 0 ? null : (
        <details className="more">
          <summary>Or let a rig record the runs</summary>
          <p>It puts each tune in force, checks that it is, runs the workloads and writes everything down through every crash. On the machine under test:</p>
          <RigCommands />
        </details>
      )}
      {info.lab.simulated ? <NewLabButton /> : null}
    </>
  )
}

interface Step {
  readonly title: string
  /** What shows that it is done, null while nothing does. */
  readonly done: string | null
  readonly why: string
  readonly ways: ReactNode
}
