// Which sheet to work off, where several are open; what to do where none is.
import type { ReactNode } from 'react'
import type { BenchState } from '@guardband/model/api/phone'
import { counted } from '@guardband/model/figures'
import { sheetProgress } from '@guardband/model/sheet'

export function SheetChoice({ state, onChoose }: { readonly state: BenchState; readonly onChoose: (id: string) => void }): ReactNode {
  if (state.sheets.length === 0) {
    return (
      <section className="card">
        <h1>No sheet is open.</h1>
        <p>A sheet lists the starts to make by hand. Make one on the hub's page, Runs, Enter; it then shows here by itself.</p>
      </section>
    )
  }
  return (
    <section className="card">
      <h1>Which sheet?</h1>
      <ul className="choices">
        {state.sheets.map((sheet) => {
          const { starts } = sheetProgress(sheet, state)
          return (
            <li key={sheet.id}>
              <button type="button" className="big choice" onClick={() => onChoose(sheet.id)}>
                <b>{sheet.name}</b>
                <span>
                  {state.rigs.find(({ id }) => id === sheet.rigId)?.name} · {starts.filter((start) => start.state === 'done').length} of {counted(starts.length, 'start')}
                </span>
              </button>
            </li>
          )
        })}
      </ul>
    </section>
  )
}
