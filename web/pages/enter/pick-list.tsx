// Choosing several out of many from the keyboard: type to narrow, arrows to move, Enter or Space to take; what is chosen stands first.
import { useEffect, useId, useRef, useState, type KeyboardEvent, type ReactNode } from 'react'

export interface Pick {
  readonly id: string
  readonly text: string
  readonly soft?: string
}

export function PickList({ label, hint, picks, chosen, onChosen, problem }: {
  readonly label: string
  readonly hint?: string
  readonly picks: readonly Pick[]
  readonly chosen: readonly string[]
  readonly onChosen: (chosen: readonly string[]) => void
  readonly problem?: string | undefined
}): ReactNode {
  const [find, setFind] = useState('')
  const [at, setAt] = useState(0)
  const id = useId()
  const words = find.toLowerCase().split(/\s+/).filter((word) => word !== '')
  const found = picks.filter(({ text, soft }) => words.every((word) => `${text} ${soft ?? ''}`.toLowerCase().includes(word)))
  const shown = found.slice(0, MOST_SHOWN)
  const active = Math.min(at, shown.length - 1)
  const list = useRef<HTMLDivElement>(null)
  useEffect(() => {
    const box = list.current
    const option = box?.children[active]
    if (!(box instanceof HTMLElement) || !(option instanceof HTMLElement)) return
    // Only the list scrolls; the page stays where it is.
    if (option.offsetTop < box.scrollTop) box.scrollTop = option.offsetTop
    else if (option.offsetTop + option.offsetHeight > box.scrollTop + box.clientHeight) box.scrollTop = option.offsetTop + option.offsetHeight - box.clientHeight
  }, [active])
  const toggle = (pick: Pick): void => {
    onChosen(chosen.includes(pick.id) ? chosen.filter((other) => other !== pick.id) : [...chosen, pick.id])
  }
  const onKey = (event: KeyboardEvent): void => {
    if (event.key === 'ArrowDown' || event.key === 'ArrowUp') {
      event.preventDefault()
      setAt(Math.min(Math.max(active + (event.key === 'ArrowDown' ? 1 : -1), 0), Math.max(shown.length - 1, 0)))
    } else if (event.key === 'Enter' || (event.key === ' ' && find === '')) {
      event.preventDefault()
      const pick = shown[active]
      if (pick === undefined) return
      toggle(pick)
      // What was looked for is found; the next is looked for anew.
      if (find === '') setAt(Math.min(active + 1, shown.length - 1))
      else {
        setFind('')
        setAt(picks.indexOf(pick) + 1)
      }
    }
  }
  return (
    <div className="field pick-list">
      <label htmlFor={id}>
        {label} <span className="soft">{chosen.length === 0 ? 'none yet' : `${chosen.length} chosen`}</span>
      </label>
      <input
        id={id}
        role="combobox"
        aria-expanded="true"
        aria-controls={`${id}-list`}
        aria-activedescendant={shown[active] === undefined ? undefined : `${id}-${active}`}
        aria-invalid={problem === undefined ? undefined : true}
        aria-describedby={problem === undefined ? undefined : `${id}-problem`}
        placeholder="type to narrow, Enter takes"
        autoComplete="off"
        value={find}
        onChange={(event) => {
          setFind(event.currentTarget.value)
          setAt(0)
        }}
        onKeyDown={onKey}
      />
      <div ref={list} id={`${id}-list`} role="listbox" tabIndex={-1} aria-multiselectable="true" aria-label={label} className="pick-options">
        {shown.map((pick, place) => (
          // The keys belong to the box above; this is for a mouse or a finger.
          <div key={pick.id} id={`${id}-${place}`} role="option" tabIndex={-1} aria-selected={chosen.includes(pick.id)} className={place === active ? 'pick pick-active' : 'pick'} onClick={() => toggle(pick)} onKeyDown={onKey}>
            <span className="pick-box" aria-hidden="true">
              {chosen.includes(pick.id) ? '✓' : ''}
            </span>
            {pick.text} {pick.soft === undefined ? null : <span className="soft">{pick.soft}</span>}
          </div>
        ))}
      </div>
      {found.length > shown.length ? <p className="hint">{found.length - shown.length} more; type to narrow.</p> : null}
      {found.length === 0 ? <p className="hint">Nothing matches.</p> : null}
      {hint === undefined ? null : <p className="hint">{hint}</p>}
      {problem === undefined ? null : (
        <p className="problem" id={`${id}-problem`} role="alert">
          {problem}
        </p>
      )}
    </div>
  )
}

const MOST_SHOWN = 40
