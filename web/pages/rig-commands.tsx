// The commands by which a rig runs a plan and its journals come into this workspace.
import type { ReactNode } from 'react'
import { useHub } from '../hub/queries.ts'

export function RigCommands(): ReactNode {
  const lab = useHub('lab')
  return (
    <pre className="wraps">
      <code>
        {['npx guardband rig approve plan.json', 'npx guardband rig run plan.json', `npx guardband take journals --to ${quoted(lab.data?.folder ?? 'FOLDER')}`].join('\n')}
      </code>
    </pre>
  )
}

/** A folder with spaces in its name needs quotes in every shell. */
function quoted(folder: string): string {
  return /^[\w./\\:-]+$/.test(folder) ? folder : `"${folder}"`
}
