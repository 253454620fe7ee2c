// The keys of the grid, always in sight; each is also a button for a mouse or a finger, which acts on the cell where the person was last.
import type { ReactNode } from 'react'
import { ACT_KEYS, OUTCOME_KEYS, type Direction, type Press } from './keys.ts'

export function Legend({ direction, onPress }: { readonly direction: Direction; readonly onPress: (press: Press) => void }): ReactNode {
  return (
    <section className="legend" aria-label="Keys">
      <div>
        <h3>How the run ended</h3>
        <ul>
          <li className="legend-enter">
            <KeyButton press={{ does: 'enter' }} letter="Enter" text={`scored: keeps the figure, goes ${direction}`} onPress={onPress} />
          </li>
          {OUTCOME_KEYS.map(({ key, outcome }) => (
            <li key={key}>
              <KeyButton press={{ does: 'end', outcome }} letter={key} text={outcome} onPress={onPress} />
            </li>
          ))}
        </ul>
      </div>
      <div>
        <h3>What happened besides</h3>
        <ul>
          {ACT_KEYS.map(({ key, act, text }) => (
            <li key={key}>
              <KeyButton press={{ does: 'act', act }} letter={key} text={text} onPress={onPress} />
            </li>
          ))}
        </ul>
      </div>
      <p className="hint">
        Space goes to the next measure of the run, arrows to the next cell, Esc brings back what was saved. A figure typed before a letter stays with it. Point or comma: both are the decimal mark.
      </p>
    </section>
  )
}

function KeyButton({ press, letter, text, onPress }: { readonly press: Press; readonly letter: string; readonly text: string; readonly onPress: (press: Press) => void }): ReactNode {
  return (
    <button
      type="button"
      className="key-button"
      // The cell keeps the focus, and with it what is typed in it.
      onMouseDown={(event) => event.preventDefault()}
      onClick={() => onPress(press)}
    >
      <kbd>{letter}</kbd> {text}
    </button>
  )
}
