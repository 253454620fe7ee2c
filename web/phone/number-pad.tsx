// A pad for figures with keys that a glove finds; the phone's own keyboard would cover what one looks at.
import type { ReactNode } from 'react'

export function NumberPad({ onKey }: { readonly onKey: (key: PadKey) => void }): ReactNode {
  return (
    <div className="pad" role="group" aria-label="Figures">
      {KEYS.map(({ key, says }) => (
        <button key={key} type="button" className="key" aria-label={says} onClick={() => onKey(key)}>
          {key}
        </button>
      ))}
    </div>
  )
}

export type PadKey = (typeof KEYS)[number]['key']

const KEYS = [
  { key: '1', says: '1' }, { key: '2', says: '2' }, { key: '3', says: '3' },
  { key: '4', says: '4' }, { key: '5', says: '5' }, { key: '6', says: '6' },
  { key: '7', says: '7' }, { key: '8', says: '8' }, { key: '9', says: '9' },
  { key: '.', says: 'decimal point' }, { key: '0', says: '0' }, { key: '⌫', says: 'take the last figure away' },
] as const

/** The text after one more key. */
export function padded(text: string, key: PadKey): string {
  if (key === '⌫') return text.slice(0, -1)
  if (text.length >= LONGEST) return text
  if (key === '.') return text.includes('.') ? text : `${text === '' ? '0' : text}.`
  return text === '0' ? key : text + key
}

/** More digits than any instrument shows. */
const LONGEST = 10
