// The wish that a rig stops: said plainly before, and shown while the rig has not heard it.
import { useState, type ReactNode } from 'react'
import type { LiveRig } from '@guardband/model/api'
import { useStopRig } from '../../hub/live-rigs.ts'
import { Dialog, DialogButtons } from '../../pieces/dialog.tsx'
import { Failed } from '../../shell/states.tsx'

export function StopRig({ rig }: { readonly rig: LiveRig }): ReactNode {
  const stop = useStopRig()
  const [asking, setAsking] = useState(false)
  const { rig: name } = rig.state
  if (rig.stopAsked) return <p className="soft">You asked it to stop: it does once the run in hand has ended.</p>
  return (
    <>
      <button type="button" className="button" onClick={() => setAsking(true)} aria-label={`Stop it: ${name}`}>
        Stop it
      </button>
      {asking ? (
        <Dialog title={`Stop ${name}?`} onClose={() => setAsking(false)}>
          <form
            onSubmit={(event) => {
              event.preventDefault()
              stop.mutate(rig.device.id, { onSuccess: () => setAsking(false) })
            }}
          >
            <p>It stops after the run in hand. Only a person at the rig starts it again; it then goes on where it stopped, and nothing that has finished is run twice.</p>
            <p>This is no emergency stop: what the machine does now, it goes on doing until the run ends.</p>
            {stop.isError ? <Failed error={stop.error} /> : null}
            <DialogButtons act="Stop after this run" busy={stop.isPending} onClose={() => setAsking(false)} />
          </form>
        </Dialog>
      ) : null}
    </>
  )
}
