// A headline with its verdict standing out, in the verdict's colour and weight.
import type { ReactNode } from 'react'
import type { Headline, Verdict } from '@guardband/model'
import { keepTogether } from '@guardband/questions/visible-text'
import { Unbroken } from './unbroken.tsx'

export function HeadlinePieces({ headline, tone }: { readonly headline: Headline; readonly tone: Verdict['tone'] | undefined }): ReactNode {
  return headline.map((piece, index) =>
    piece.verdict === true ? (
      // The pieces have no identity of their own; their order is it.
      <b key={`${index}:${piece.text}`} className={tone === undefined ? undefined : `tone-${tone}`}>
        <Unbroken text={keepTogether(piece.text)} />
      </b>
    ) : (
      <Unbroken key={`${index}:${piece.text}`} text={keepTogether(piece.text)} />
    ),
  )
}
