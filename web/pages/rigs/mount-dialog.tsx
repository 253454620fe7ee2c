// How a cooler was put on: paste, torque, frame, lid. Filled in with how it was last time.
import { useState, type ReactNode } from 'react'
import type { Assembly, Mount, Rig } from '@guardband/model/records/parts'
import { useApply } from '../../hub/apply.ts'
import { newId } from '../../hub/new-id.ts'
import { TextField } from '../../pieces/field.tsx'
import { FormDialog } from '../../pieces/form-dialog.tsx'
import { DateField } from '../parts/date-field.tsx'
import type { DoneAct } from '../parts/done.tsx'
import { minuteMoment, minuteText } from '../parts/moments.ts'

export interface MountDraft {
  readonly paste: string
  readonly torque: string
  readonly frame: string
  readonly lid: string
}

export function mountDraft(last: Mount | undefined): MountDraft {
  return { paste: last?.paste ?? '', torque: last?.torque ?? '', frame: last?.frame ?? '', lid: last?.lid ?? '' }
}

export function mountOf(draft: MountDraft, base: Pick<Mount, 'id' | 'assemblyId' | 'at'>): Mount {
  const filled = Object.fromEntries(Object.entries(draft).flatMap(([key, text]: [string, string]) => (text.trim() === '' ? [] : [[key, text.trim()]])))
  return { kind: 'mount', ...base, ...filled }
}

export function mountText(mount: Mount): string {
  return [...named('paste', mount.paste), ...named('torque', mount.torque), ...named('frame', mount.frame), ...named('lid', mount.lid)].join('; ')
}

export function MountFields({ draft, onDraft }: { readonly draft: MountDraft; readonly onDraft: (draft: MountDraft) => void }): ReactNode {
  return (
    <div className="mount-fields">
      <TextField label="Paste" value={draft.paste} onValue={(paste) => onDraft({ ...draft, paste })} hint="Which, and how it was put on." />
      <TextField label="Torque" maxLength={100} value={draft.torque} onValue={(torque) => onDraft({ ...draft, torque })} />
      <TextField label="Frame" maxLength={100} value={draft.frame} onValue={(frame) => onDraft({ ...draft, frame })} />
      <TextField label="Lid" maxLength={100} value={draft.lid} onValue={(lid) => onDraft({ ...draft, lid })} hint="On, off, or what is under it." />
    </div>
  )
}

export function MountDialog({ rig, assembly, last, onClose, onDone }: { readonly rig: Rig; readonly assembly: Assembly; readonly last?: Mount; readonly onClose: () => void; readonly onDone: (act: DoneAct) => void }): ReactNode {
  const apply = useApply()
  const [draft, setDraft] = useState(mountDraft(last))
  const [when, setWhen] = useState(() => minuteText(new Date()))
  const at = minuteMoment(when)
  const problem = at === null ? 'Say when it was mounted.' : Date.parse(at) < Date.parse(assembly.since) ? 'It must be after what is under the cooler was put in.' : undefined
  const send = (): void => {
    if (at === null || problem !== undefined) return
    const after = mountOf(draft, { id: newId(), assemblyId: assembly.id, at })
    const what = `Remounted the cooler of ${rig.name}${mountText(after) === '' ? '' : `: ${mountText(after)}`}`
    apply.mutate({ what, items: [{ before: null, after }] }, { onSuccess: (change) => onDone({ change, sentence: `${what}.` }) })
  }
  return (
    <FormDialog title={`Cooler of ${rig.name} remounted`} explain={last === undefined ? undefined : 'Filled in as it was last time; change what was done otherwise.'} act="Enter it" busy={apply.isPending} error={apply.error} onClose={onClose} onSend={send}>
      <DateField label="When" to="minute" value={when} onValue={setWhen} problem={problem} />
      <MountFields draft={draft} onDraft={setDraft} />
    </FormDialog>
  )
}

function named(word: string, text: string | undefined): readonly string[] {
  return text === undefined ? [] : [`${word}: ${text}`]
}
