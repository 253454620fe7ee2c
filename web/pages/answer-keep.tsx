// What a person takes away from an answer: its picture, its table, its address, a report of it.
import { useState, type ReactNode } from 'react'
import { headlineText, viewOf, type Answer, type AnswerScope } from '@guardband/model/answer'
import type { PictureNode } from '@guardband/questions/picture-node'
import { useAct } from '../hub/queries.ts'
import { csvText } from '../pieces/csv.ts'
import { framedPicture, type Frame } from '../pieces/framed-picture.ts'
import { fileName, pictureFile, picturePixels, saveFile, textMeasure } from '../pieces/save.ts'
import { Failed } from '../shell/states.tsx'
import { answerRows } from './answer-csv.ts'
import { shortDigest } from './answer-margin.tsx'
import type { KindView } from './kinds.ts'
import { reportAddress } from './reports.tsx'

export function AnswerKeep({ view, id, answer, scope }: { readonly view: KindView; readonly id: string; readonly answer: Answer; readonly scope: AnswerScope }): ReactNode {
  const publish = useAct('publish')
  const [said, setSaid] = useState('')
  const [problem, setProblem] = useState<Error | null>(null)
  const name = fileName(answer.sides[1], 'over', answer.sides[0], scope, ...(answer.simulated ? ['simulated'] : []))
  const draw = (): PictureNode => framedPicture(view.picture(answer, { scope, width: SAVED_WIDTH }), frameOf(view, answer, scope), textMeasure())
  const attempt = (done: string, act: () => Promise<void> | void): void => {
    setProblem(null)
    setSaid('')
    void (async () => {
      try {
        await act()
        setSaid(done)
      } catch (error) {
        setProblem(error instanceof Error ? error : new Error(String(error)))
      }
    })()
  }
  return (
    <section className="keep" aria-label="Keep this answer">
      {viewOf(answer, scope).unavailable === undefined ? (
        <div className="keep-row">
          <span>Picture</span>
          <button type="button" className="button-quiet" onClick={() => attempt('The picture was saved.', () => saveFile(`${name}.svg`, new Blob([pictureFile(draw())], { type: 'image/svg+xml' })))}>
            Save as SVG
          </button>
          <button type="button" className="button-quiet" onClick={() => attempt('The picture was saved.', async () => saveFile(`${name}.png`, await picturePixels(draw())))}>
            Save as PNG
          </button>
        </div>
      ) : null}
      <div className="keep-row">
        <span>Table</span>
        <button type="button" className="button-quiet" onClick={() => attempt('The table was saved.', () => saveFile(`${name}.csv`, new Blob([csvText(answerRows(answer, scope))], { type: 'text/csv' })))}>
          Save as CSV
        </button>
      </div>
      <div className="keep-row">
        <span>Answer</span>
        <button type="button" className="button-quiet" onClick={() => attempt('The link was copied.', () => navigator.clipboard.writeText(location.href))}>
          Copy link
        </button>
        <button
          type="button"
          className="button-quiet"
          disabled={publish.isPending}
          onClick={() => {
            setSaid('')
            publish.mutate({ input: { title: titleOf(answer, scope), questionIds: [id] } })
          }}
        >
          {publish.isPending ? 'Publishing ...' : 'Publish a report'}
        </button>
      </div>
      <p role="status" className="soft">
        {said}
        {said === '' && publish.isSuccess ? (
          <>
            Published as report {publish.data.report.number}:{' '}
            <a href={reportAddress(publish.data.report.file)} target="_blank" rel="noopener">
              {publish.data.report.title}
            </a>
          </>
        ) : null}
      </p>
      {problem === null ? null : <Failed error={problem} />}
      {publish.isError ? <Failed error={publish.error} /> : null}
    </section>
  )
}

function frameOf(view: KindView, answer: Answer, scope: AnswerScope): Frame {
  return {
    headline: headlineText(viewOf(answer, scope).headline),
    basis: `${scope} · ${answer.basis.sentence}`,
    caption: view.caption(answer),
    foot: [answer.lab, `snapshot ${shortDigest(answer.snapshotDigest)}`, ...(answer.simulated ? ['simulated'] : [])].join(' · '),
  }
}

/** A title holds 200 characters. */
function titleOf(answer: Answer, scope: AnswerScope): string {
  const title = answer.question.title === '' ? headlineText(viewOf(answer, scope).headline) : answer.question.title
  return title.slice(0, 200)
}

/** Wide enough for every label to stand beside its bar. */
const SAVED_WIDTH = 760
