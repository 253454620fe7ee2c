// The picture of an answer, laid out anew whenever its place changes width, with its caption.
import type { ReactNode } from 'react'
import type { Answer, AnswerScope } from '@guardband/model/answer'
import { keepTogether } from '@guardband/questions/visible-text'
import { Picture } from '../pieces/picture.tsx'
import { useWidth } from '../pieces/use-width.ts'
import type { KindView } from './kinds.ts'

export function AnswerPicture({ view, answer, scope }: { readonly view: KindView; readonly answer: Answer; readonly scope: AnswerScope }): ReactNode {
  const { ref, width } = useWidth<HTMLDivElement>()
  return (
    <figure>
      <div ref={ref} className="picture-place">
        {width === null || width <= 0 ? null : <Picture root={view.picture(answer, { scope, width })} />}
      </div>
      <figcaption>{keepTogether(view.caption(answer))}</figcaption>
    </figure>
  )
}
