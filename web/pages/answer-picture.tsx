// The picture of an answer, laid out anew whenever its place changes width, with its caption.
import type { ReactNode } from 'react'
import type { Answer, AnswerScope } from '@guardband/model/answer'
import { picture } from '@guardband/questions/gain/picture'
import { keepTogether } from '@guardband/questions/visible-text'
import { Picture } from '../pieces/picture.tsx'
import { useWidth } from '../pieces/use-width.ts'

export function AnswerPicture({ answer, scope }: { readonly answer: Answer; readonly scope: AnswerScope }): ReactNode {
  const { ref, width } = useWidth<HTMLDivElement>()
  return (
    <figure>
      <div ref={ref} className="picture-place">
        {width === null || width <= 0 ? null : <Picture root={picture(answer, { scope, width })} />}
      </div>
      <figcaption>{keepTogether(captionOf(answer))}</figcaption>
    </figure>
  )
}

export function captionOf(answer: Answer): string {
  const [a, b] = answer.sides
  return `Gain of ${b} over ${a}. ${answer.band}`
}
