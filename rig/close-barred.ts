// Closes what is not carried out any more after crashes: a tune that has failed, or one further from base than one that crashed.
import type { JournalBodyOf } from '@guardband/model'
import { barOf, unlikeBase, type Bar } from './barred.ts'
import { tunesOnTheWay } from './put-in-force.ts'
import { clip, moment, type RigContext, type SessionState } from './rig-context.ts'
import { runsOf } from './runs-of.ts'
import type { AdjustStep, RunStep, StartStep, StepSource } from './step-source.ts'

/** True where its tune is not to be put in force: it and what hangs on it are closed without being carried out. */
export async function closeBarredInto(state: SessionState, context: RigContext, source: StepSource, step: StartStep | AdjustStep | RunStep): Promise<boolean> {
  const asked = step.kind === 'run' ? (step.adjust ?? step.change) : step
  const bar = await barIn(state, context, step.id, tunesOnTheWay(state, asked))
  if (bar === null) return false
  const closed = [...(step.kind === 'run' ? [] : [step.id]), ...runsOf(source, state, asked).map(({ id }) => id)]
  const at = moment(context)
  const records = closed.map((id): JournalBodyOf<'done'> => ({ type: 'done', at, step: id, message: clip(`not run: ${bar.why}`) }))
  if (state.writer === null) state.waiting.push(...records)
  else await state.writer.writeSynced(...records)
  for (const id of closed) state.finished.set(id, { by: 'done', outcome: null, seconds: null, workload: null })
  state.skipped.push(...closed.filter((id) => id !== asked.id))
  context.terminal.say(`${step.id}  tune "${asked.tune}"  not run: ${bar.why}`)
  context.link.live.ended({ text: `${step.id}: tune "${asked.tune}" is not run: ${bar.why}`, outcome: null })
  return true
}

async function barIn(state: SessionState, context: RigContext, step: string, tunes: readonly string[]): Promise<Bar | null> {
  for (const tune of tunes) {
    if (state.letPass.has(tune)) continue
    const bar = barOf(context.plan, tune, state.crashes)
    if (bar === null) sayUnlikeInto(state, context, tune)
    else if (!(await mayPass(state, context, { step, tune, bar }))) return bar
  }
  return null
}

/** Only who stands at the machine can tell whether it is safe; a tune that has failed stays so. */
async function mayPass(state: SessionState, { terminal, ask }: RigContext, { step, tune, bar }: { readonly step: string; readonly tune: string; readonly bar: Bar }): Promise<boolean> {
  if (bar.kind !== 'further' || !terminal.interactive) return false
  const { answer } = await ask({ kind: 'choice', step, text: `Shall "${tune}" run all the same? ${capital(bar.why)}.`, words: ['yes', 'no'] })
  if (answer === 'yes') state.letPass.add(tune)
  return answer === 'yes'
}

/** Once a tune: what can't be compared keeps nothing from running, so somebody should know. */
function sayUnlikeInto(state: SessionState, { plan, terminal, link }: RigContext, tune: string): void {
  if (state.toldUnlike.has(tune)) return
  const keys = unlikeBase(plan, tune, state.crashes)
  if (keys.length === 0) return
  state.toldUnlike.add(tune)
  const text = `tune "${tune}" goes on after a crash although ${keys.join(', ')} can't be compared with "${plan.base ?? ''}"`
  terminal.say(`caution: ${text}`)
  link.live.ended({ text, outcome: null })
}

function capital(text: string): string {
  return `${text.slice(0, 1).toUpperCase()}${text.slice(1)}`
}
