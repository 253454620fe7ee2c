// The margin of an answer: cautions, what it is worth, what would settle it, how it was computed and from what.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { Answer, Caution } from '@guardband/model/answer'
import { counted } from '@guardband/model/figures'
import { keepTogether } from '@guardband/questions/visible-text'
import { MarginNote } from '../shell/page.tsx'

export function AnswerMargin({ id, answer }: { readonly id: string; readonly answer: Answer }): ReactNode {
  const { settle } = answer
  return (
    <>
      {IN_ORDER.flatMap((severity) => answer.cautions.filter((caution) => caution.severity === severity)).map((caution) => (
        <MarginNote key={`${caution.code}|${caution.title}|${caution.text}`} title={caution.title} {...(caution.severity === 'warns' ? { tone: 'warns' as const } : {})}>
          <p>
            {keepTogether(caution.text)} <CautionRecords id={id} caution={caution} />
          </p>
        </MarginNote>
      ))}
      {answer.sections.map((section) => (
        <MarginNote key={section.code} title={section.title}>
          {section.sentences.map((sentence) => (
            <p key={sentence}>{keepTogether(sentence)}</p>
          ))}
        </MarginNote>
      ))}
      {settle === null ? null : (
        <MarginNote title="What would settle it">
          <p>{keepTogether(settle.sentence)}</p>
        </MarginNote>
      )}
      <MarginNote title="How it was computed">
        <details>
          <summary>Method and sources</summary>
          <ul className="methods">
            {answer.methods.map((method) => (
              <li key={method.text}>
                {keepTogether(method.text)}
                {method.source === undefined ? null : <cite>{method.source}</cite>}
              </li>
            ))}
          </ul>
        </details>
        <p className="digest">
          From snapshot{' '}
          <code title={answer.snapshotDigest} aria-label={answer.snapshotDigest}>
            {shortDigest(answer.snapshotDigest)}
          </code>
        </p>
      </MarginNote>
    </>
  )
}

/** A way to the runs that a caution rests on. */
export function CautionRecords({ id, caution }: { readonly id: string; readonly caution: Caution }): ReactNode {
  if (caution.records.length === 0) return null
  return (
    <Link className="unbroken" to="/runs" search={{ of: id, caution: caution.code }} aria-label={`See ${counted(caution.records.length, 'record')} behind: ${caution.title}`}>
      See {counted(caution.records.length, 'record')}
    </Link>
  )
}

const IN_ORDER = ['warns', 'notes'] as const

export function shortDigest(digest: string): string {
  return digest.replace(/^sha256[:-]/, '').slice(0, SHORT)
}

/** Enough to tell two snapshots of one lab apart at a glance. */
const SHORT = 12
