// At the foot, where a thumb reaches: undo, a note, a picture.
import { useRef, useState, type ReactNode } from 'react'
import type { BenchState } from '@guardband/model/api/phone'
import type { SheetRecords } from '@guardband/model/sheet'
import type { Sheet } from '@guardband/model/records/sheet'
import type { Start } from '@guardband/model/records/start'
import type { Run } from '@guardband/model/records/run'
import { newId } from '../hub/new-id.ts'
import { placeOf, workloadName } from './bench-names.ts'
import type { Desk, View } from './desk.ts'
import type { Enter } from './enter.ts'
import { makeThumbnail } from '../pieces/thumbnail.ts'

export function FootBar(props: {
  readonly state: BenchState
  readonly records: SheetRecords
  readonly sheet: Sheet
  readonly view: View
  readonly desk: Desk
  readonly enter: Enter
  /** For touches, of which a bounce is none. */
  readonly once: (work: () => Promise<void>) => void
  readonly run: (work: () => Promise<void>) => void
}): ReactNode {
  const { state, records, sheet, view, desk, enter, once, run } = props
  const [noting, setNoting] = useState<string>()
  const camera = useRef<HTMLInputElement>(null)
  const last = lastRecord(sheet, records)
  const about = last === undefined ? undefined : nameOf(state, sheet, records, last)
  const undo = view.undoable.at(-1)

  const keep = (file: File): void =>
    run(async () => {
      if (last === undefined || about === undefined) return
      await desk.enter({ kind: 'picture', request: newId(), labId: state.labId, what: `Picture of ${about}`, about: last.id, name: file.name, file, thumbnail: await makeThumbnail(file) })
    })

  return (
    <footer>
      {undo === undefined ? null : <p className="undo-what">Undo takes back: {undo.what}</p>}
      <div className="foot">
        <button type="button" className="big" disabled={undo === undefined} onClick={() => once(() => desk.undo(newId()))}>
          Undo
        </button>
        <button type="button" className="big" disabled={last === undefined} onClick={() => setNoting(last?.note ?? '')}>
          Note
        </button>
        <button type="button" className="big" disabled={last === undefined} onClick={() => camera.current?.click()}>
          Picture
        </button>
        <input
          ref={camera}
          type="file"
          accept="image/*"
          capture="environment"
          hidden
          onChange={(event) => {
            const file = event.currentTarget.files?.[0]
            event.currentTarget.value = ''
            if (file !== undefined) keep(file)
          }}
        />
      </div>
      {noting === undefined || last === undefined || about === undefined ? null : (
        <NoteSheet
          about={about}
          first={noting}
          onClose={() => setNoting(undefined)}
          onNote={(note) => {
            setNoting(undefined)
            enter({ what: 'note', recordId: last.id, note }, `Noted on ${about}: ${note}`)
          }}
        />
      )}
    </footer>
  )
}

function NoteSheet({ about, first, onClose, onNote }: { readonly about: string; readonly first: string; readonly onClose: () => void; readonly onNote: (note: string) => void }): ReactNode {
  const [text, setText] = useState(first)
  return (
    <div className="note-sheet" role="dialog" aria-modal="true" aria-labelledby="note-title">
      <label id="note-title" htmlFor="note">
        Note on {about}
      </label>
      {/* Opened by a tap on "Note": whoever did that means to write. */}
      {/* oxlint-disable-next-line jsx-a11y/no-autofocus */}
      <textarea id="note" autoFocus rows={5} maxLength={10_000} value={text} onChange={(event) => setText(event.target.value)} />
      <div className="pair">
        <button type="button" className="big" onClick={onClose}>
          Cancel
        </button>
        <button type="button" className="big main" disabled={text.trim() === '' && first === ''} onClick={() => onNote(text.trim())}>
          Keep the note
        </button>
      </div>
    </div>
  )
}

/** The run entered last, else the start begun last: what a person who reaches for the camera has just seen. */
function lastRecord(sheet: Sheet, { starts, runs }: SheetRecords): Start | Run | undefined {
  const own = new Set(sheet.starts.map(({ startId }) => startId))
  const all = [...starts.filter(({ id }) => own.has(id)), ...runs.filter(({ startId }) => own.has(startId))]
  return all.toSorted((a, b) => (a.at ?? '').localeCompare(b.at ?? '') || (a.kind === b.kind ? a.id.localeCompare(b.id) : a.kind === 'start' ? -1 : 1)).at(-1)
}

function nameOf(state: BenchState, sheet: Sheet, { runs }: SheetRecords, record: Start | Run): string {
  const startId = record.kind === 'run' ? record.startId : record.id
  const planned = sheet.starts.find((start) => start.startId === startId)
  const start = `start ${planned === undefined ? '?' : placeOf(sheet, planned)}`
  if (record.kind === 'start') return start
  const repeat = runs.filter((run) => run.startId === startId && run.workloadId === record.workloadId && run.order <= record.order).length
  return `${workloadName(state, record.workloadId)}, repeat ${repeat} of ${start}`
}
