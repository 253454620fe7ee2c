// The commands by which a rig runs a plan and its journals come into this workspace.
import type { ReactNode } from 'react'
import { useHub } from '../hub/queries.ts'

export function RigCommands(): ReactNode {
  const lab = useHub('lab')
  return (
    <pre className="wraps">
      <code>
        {'npx guardband rig approve plan.json\nnpx guardband rig run plan.json\nnpx guardband take journals '}
        <span className="unbroken">--to</span> {quoted(lab.data?.folder ?? 'FOLDER')}
      </code>
    </pre>
  )
}

/** The same where the hub can be reached: no journal has to be carried. */
export function RigPairing(): ReactNode {
  return (
    <pre className="wraps">
      <code>
        {'npx guardband rig pair https://ADDRESS:4891 '}
        <span className="unbroken">--code XXXX-XXXX</span> <span className="unbroken">--fingerprint "..."</span>
        {'\nnpx guardband rig approve plan.json\nnpx guardband rig run plan.json'}
      </code>
    </pre>
  )
}

/** A folder with spaces in its name needs quotes in every shell. */
function quoted(folder: string): string {
  return /^[\w./\\:-]+$/.test(folder) ? folder : `"${folder}"`
}
