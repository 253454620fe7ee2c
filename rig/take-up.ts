// Takes up what earlier sessions left of a plan: closes what was in flight, books starts that did not come about, and waits before it goes on.
import { SpokenError, counted, type Plan } from '@guardband/model'
import { limitsOf } from './barred.ts'
import { sameBoot } from './boot-id.ts'
import { CRASHES } from './crashes.ts'
import { isFinishing, type FolderReading } from './journal-folder.ts'
import { journalFailure } from './journal-writer.ts'
import { bookNoStartInto } from './open-start.ts'
import { endLeftGroup } from './process-group.ts'
import { resolveFlight } from './resolve-flight.ts'
import { moment, type RigContext, type SessionState } from './rig-context.ts'
import { restartedSince } from './start-kind.ts'
import { runsOf } from './runs-of.ts'
import type { StepSource } from './step-source.ts'
import { stopAsked } from './stop-request.ts'
import { restartsWithinHour } from './restarts.ts'

export function newState(reading: FolderReading, boot: string): SessionState {
  return {
    finished: new Map(reading.finished),
    waiting: [],
    journals: [],
    skipped: [],
    writer: null,
    start: null,
    previous: reading.last === null ? null : { journal: reading.last.journal, lastHash: reading.last.lastHash },
    startOrder: reading.journals.length,
    boot,
    crashes: [...reading.crashes],
    letPass: new Set(),
    restarted: restartedSince(reading.journals, boot),
    startSeconds: [],
  }
}

/** What the next journal chains to must not vanish in a power cut after it. */
export async function settleLast({ disk }: RigContext, { last }: FolderReading): Promise<void> {
  if (last === null) return
  try {
    await disk.settle(last.path)
  } catch (cause) {
    throw journalFailure(last.path, cause)
  }
}

export async function takeUpInto(state: SessionState, context: RigContext, source: StepSource, reading: FolderReading): Promise<void> {
  for (const flight of reading.inFlight) {
    const found = flight.notes.map(endLeftGroup)
    const left = found.find((group) => group === 'at work') ?? found.find((group) => group === 'leader ended') ?? 'gone'
    const restarted = !sameBoot(flight.bootId, state.boot)
    const seen = restarted ? await context.link.seen(flight.journal).catch(() => []) : []
    const resolved = resolveFlight(flight, { at: moment(context), bootId: state.boot, left, seen, upSince: upSince(context, state) })
    const { outcome, evidence } = resolved
    state.waiting.push(resolved)
    if (isFinishing(outcome) && !state.finished.has(flight.begin.step)) state.finished.set(flight.begin.step, { by: 'resolved', outcome, seconds: null, workload: flight.begin.workload })
    const tune = reading.tuneOfRun(flight.begin.runId)
    if (CRASHES.has(outcome) && tune !== null) state.crashes.push({ tune, outcome, step: flight.begin.step })
    const text = `${flight.begin.step} was in flight: ${isFinishing(outcome) ? outcome : 'it is carried out afresh'}. ${evidence}`
    context.terminal.say(text)
    context.link.live.ended({ text, outcome })
  }
  checkRestarts(context, reading, state)
  await waitGrace(context, reading, state)
  await bookNoStart(state, context, source, reading)
}

/** Of a machine beside this one nothing tells. */
function upSince({ sources }: RigContext, { boot }: SessionState): number | null {
  return boot === sources.bootId ? sources.now() - sources.uptime() * 1000 : null
}

/** A person at the terminal sees what happens; a rig alone must not let its machine restart all night. */
function checkRestarts({ plan, people, sources }: RigContext, { journals }: FolderReading, { boot }: SessionState): void {
  if (people.present) return
  const { restartsPerHour } = limitsOf(plan)
  const restarts = restartsWithinHour(journals, { now: sources.now(), bootId: boot })
  if (restarts < restartsPerHour) return
  throw new SpokenError({
    code: 'too-many-restarts',
    place: `plan ${plan.id}`,
    message: `the machine restarted ${counted(restarts, 'time')} within an hour, and ${restartsPerHour} are as many as the plan allows.`,
    mend: 'See what brings it down; then run the plan at a terminal, and it goes on where it stopped.',
  })
}

/** After a crash somebody may want to keep the machine from going on. */
async function waitGrace(context: RigContext, reading: FolderReading, state: SessionState): Promise<void> {
  const { journals, inFlight, last } = reading
  const end = journals.findLast(({ open }) => open !== null)
  const crashed = inFlight.length > 0 || (last !== null && !sameBoot(last.bootId, state.boot) && end?.entries.at(-1)?.body.type !== 'close')
  const { graceSeconds } = limitsOf(context.plan)
  if (!crashed || graceSeconds === 0) return
  const stop = stopText(context.plan)
  context.terminal.say(`The plan was cut short. It goes on in ${graceSeconds} s; ${stop}.`)
  context.link.live.turned('grace', `It goes on ${graceSeconds} s after a crash, unless somebody stops it.`)
  const pressed = new AbortController()
  const key = context.terminal.key?.(AbortSignal.any([pressed.signal, context.signal])).then(() => true, () => false)
  try {
    for (let waited = 0; waited < graceSeconds; waited++) {
      const step = context.sources.sleep(Math.min(1, graceSeconds - waited) * 1000, context.signal).then(() => false)
      const wants = await (key === undefined ? step : Promise.race([step, key]))
      if (wants || stopAsked(context.rigFolder)) throw stopped()
    }
  } finally {
    pressed.abort()
  }
  context.link.live.turned('at work', null)
}

function stopText({ id }: Plan): string {
  return `a key at this terminal or "rig stop" for the plan ${id} keeps it from that`
}

export function stopped(): SpokenError {
  return new SpokenError({ code: 'stop-asked', message: 'a person asked this rig to stop.', mend: 'Running the plan again at a terminal takes it up where it is.' })
}

/** Where the program alone died the tune is not to blame, and the start is simply made afresh. */
async function bookNoStart(state: SessionState, context: RigContext, source: StepSource, { unfinished, last }: FolderReading): Promise<void> {
  const fell = unfinished.filter(({ bootId, nextBootId }) => !sameBoot(bootId, nextBootId ?? state.boot))
  const latest = fell.at(-1)
  if (latest === undefined || latest.journal !== last?.journal) return
  const asked = source.remaining(state).flatMap((step) => (step.kind === 'prompt' ? [] : step.kind === 'run' ? [step.adjust ?? step.change, step.change] : [step])).find(({ id }) => id === latest.step)
  if (asked === undefined) return
  const change = asked.kind === 'change' ? asked : asked.change
  await bookNoStartInto(state, context, { change, asked, runs: runsOf(source, state, asked), journal: latest.journal, times: fell.filter(({ step }) => step === latest.step).length })
}
