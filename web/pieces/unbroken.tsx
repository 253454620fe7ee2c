// Labels with a hyphen stay in one piece: Q14-07 is a name, not two words.
import { Fragment, type ReactNode } from 'react'

export function Unbroken({ text }: { readonly text: string }): ReactNode {
  return text.split(' ').map((word, index) => (
    // Words have no identity of their own; their order is it.
    <Fragment key={`${index}:${word}`}>
      {index > 0 ? ' ' : null}
      {word.includes('-') && word.length <= LONGEST_UNBROKEN ? <span className="unbroken">{word}</span> : word}
    </Fragment>
  ))
}

/** A longer word may be wider than a narrow page. */
const LONGEST_UNBROKEN = 24
