// What to do in a workspace that holds nothing yet.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import { NewLabButton } from '../pieces/new-lab.tsx'
import { useHub } from '../hub/queries.ts'
import { RigCommands } from './rig-commands.tsx'

export function FirstSteps(): ReactNode {
  const lab = useHub('lab')
  return (
    <ol className="steps">
      <li>
        <h2>Bring runs in</h2>
        <p>From a file: one line a run, with the sample, the tune, the start and what was measured. You see what is in it before anything is taken in.</p>
        <p>
          <Link className="button button-main" to="/runs/take">
            Take in a file of runs
          </Link>
        </p>
        <p>Or from a rig, which puts each tune in force, checks that it is, runs the workloads and writes everything down through every crash:</p>
        <RigCommands />
      </li>
      <li>
        <h2>Ask</h2>
        <p>Say what is compared with what, and the smallest gain that would matter to you. That is fixed, with the time, before you look.</p>
        <p>
          <Link className="button" to="/questions/ask">
            Ask a question
          </Link>
        </p>
      </li>
      <li>
        <h2>Read the answer</h2>
        <p>A sentence, a picture with intervals, a table, what to be careful about, and how many minutes would settle what is still open.</p>
      </li>
      {lab.data?.lab.simulated === true ? (
        <li>
          <NewLabButton />
        </li>
      ) : null}
    </ol>
  )
}
