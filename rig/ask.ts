// A question to a person in the middle of a plan: shown wherever somebody can answer, its answer on disk before anything goes by it.
import { SpokenError, type JournalBodyOf } from '@guardband/model'
import type { Question, Said } from './people.ts'
import { clip, moment, type RigContext, type SessionState } from './rig-context.ts'

export function askerFor(state: SessionState, context: Omit<RigContext, 'ask'>): RigContext['ask'] {
  return async (question: Question, until?: AbortSignal): Promise<Said> => {
    const { people, link } = context
    const signal = until === undefined ? context.signal : AbortSignal.any([context.signal, until])
    if (!people.present) {
      throw new SpokenError({ code: 'person-needed', place: question.step, message: `a person is needed here: ${question.text}`, mend: 'Run the plan on a terminal; it goes on at this step.' })
    }
    link.live.turned('asks', question.text)
    const said = await people.ask(question, signal)
    link.live.turned('at work', null)
    const answer: JournalBodyOf<'answer'> = { type: 'answer', at: moment(context), step: question.step, asked: clip(question.text), answer: clip(said.answer), who: said.who, via: said.via }
    if (state.writer === null) state.waiting.push(answer)
    else await state.writer.writeSynced(answer)
    return said
  }
}
