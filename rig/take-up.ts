// Takes up what earlier sessions left of a plan: closes what was in flight, books starts that did not come about, and waits before it goes on.
import { SpokenError, counted, type JournalBodyOf, type Plan } from '@guardband/model'
import { limitsOf } from './barred.ts'
import { sameBoot } from './boot-id.ts'
import { CRASHES } from './crashes.ts'
import { isFinishing, type FolderReading, type InFlight } from './journal-folder.ts'
import { journalFailure } from './journal-writer.ts'
import { bookNoStartInto, closeJournalInto, openLastJournalInto } from './open-start.ts'
import { endLeftGroup } from './process-group.ts'
import { resolveFlight, type ResolveSources } from './resolve-flight.ts'
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
    toldUnlike: new Set(),
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

/** `raised` says, a sentence each, what was done where the machine under test had to be brought up first. */
export async function takeUpInto(state: SessionState, context: RigContext, source: StepSource, reading: FolderReading, raised: readonly string[]): Promise<void> {
  for (const flight of reading.inFlight) {
    const resolved = await resolve(state, context, flight, raised)
    const { outcome, evidence } = resolved
    state.waiting.push(resolved)
    if (isFinishing(outcome) && !state.finished.has(flight.begin.step)) state.finished.set(flight.begin.step, { by: 'resolved', outcome, seconds: null, workload: flight.begin.workload })
    const tune = reading.tuneOfRun(flight.begin.runId)
    if (CRASHES.has(outcome) && tune !== null) state.crashes.push({ tune, outcome, step: flight.begin.step })
    const text = `${flight.begin.step} was in flight: ${isFinishing(outcome) ? outcome : 'it is carried out afresh'}. ${evidence}`
    context.terminal.say(text)
    context.link.live.ended({ text, outcome })
  }
  checkRestarts(context, reading, state.boot)
  await bookNoStart(state, context, source, reading)
  await waitGrace(state, context, reading)
}

async function resolve(state: SessionState, context: RigContext, flight: InFlight, raised: readonly string[]): Promise<JournalBodyOf<'resolved'>> {
  const { sources, link } = context
  const found = flight.notes.map(endLeftGroup)
  const left = found.find((group) => group === 'at work') ?? found.find((group) => group === 'leader ended') ?? 'gone'
  const at = moment(context)
  const restarted = !sameBoot(flight.bootId, state.boot)
  const seen = restarted ? await link.seen(flight.journal).catch(() => []) : []
  const told = !restarted ? null : raised.length > 0 ? { stoodStill: true, text: `It was brought up from beside it: ${raised.join('; ')}.` } : await howItWentDown(context, flight)
  const beside = !sameBoot(state.boot, sources.bootId)
  // Of a machine beside this one nothing tells.
  const upSince = beside ? null : sources.now() - sources.uptime() * 1000
  const clock = link.clock()
  const upSinceThere = upSince === null || clock === null ? null : upSince + clock.offset * 1000
  return resolveFlight(flight, { at, bootId: state.boot, beside, left, seen, told, upSince, upSinceThere })
}

/** Only who stands at the machine may have seen it; null where nobody does, or they don't know. */
async function howItWentDown({ terminal, attendance, ask }: RigContext, { begin, wentOn }: InFlight): Promise<ResolveSources['told']> {
  if (!terminal.interactive || attendance === 'unattended' || wentOn) return null
  const text = `${begin.step} was in flight when the machine went down. Did it restart by itself (reset), or did it stand still until somebody restarted it (hung)?`
  const { answer, who } = await ask({ kind: 'choice', step: begin.step, text, words: ['reset', 'hung', 'unknown'] })
  if (answer === 'unknown') return null
  return answer === 'hung' ? { stoodStill: true, text: `${who} says that it stood still until somebody restarted it.` } : { stoodStill: false, text: `${who} says that it restarted by itself.` }
}

/** A person at the terminal sees what happens; a rig alone must not let its machine restart all night. */
export function checkRestarts({ plan, terminal, attendance, sources }: RigContext, { journals }: FolderReading, boot: string): void {
  if (terminal.interactive && attendance === 'attended') return
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
async function waitGrace(state: SessionState, context: RigContext, reading: FolderReading): Promise<void> {
  const { journals, inFlight, last } = reading
  const end = journals.findLast(({ open }) => open !== null)
  const restarted = last !== null && !sameBoot(last.bootId, state.boot)
  const crashed = inFlight.length > 0 || (restarted && end?.entries.at(-1)?.body.type !== 'close')
  const { graceSeconds } = limitsOf(context.plan)
  if (!crashed || graceSeconds === 0) return
  // Should the machine go down while nobody does anything, that restart counts too (rule 25): so this boot is on record first, in a file that stays open meanwhile.
  if (restarted && context.attendance === 'unattended') await openLastJournalInto(state, context, end?.open?.step ?? 'none')
  context.terminal.say(`The plan was cut short. It goes on in ${graceSeconds} s; ${stopText(context.plan)}.`)
  context.link.live.turned('grace', `It goes on ${graceSeconds} s after a crash, unless somebody stops it.`)
  await countDown(context, graceSeconds)
  context.link.live.turned('at work', null)
  await closeJournalInto(state, context, 'nobody stopped it')
}

async function countDown({ terminal, sources, signal, rigFolder }: RigContext, seconds: number): Promise<void> {
  const pressed = new AbortController()
  const key = terminal.key?.(AbortSignal.any([pressed.signal, signal])).then(() => true, () => false)
  try {
    for (let left = seconds; left > 0; left -= LOOK_SECONDS) {
      if (left < seconds && left % SAID_SECONDS === 0) terminal.say(`${left} s`)
      const step = sources.sleep(Math.min(LOOK_SECONDS, left) * 1000, signal).then(() => false)
      const wants = await (key === undefined ? step : Promise.race([step, key]))
      signal.throwIfAborted()
      if (wants || stopAsked(rigFolder)) throw stopped()
    }
  } finally {
    pressed.abort()
  }
}

/** Between two looks for a wish to stop. */
const LOOK_SECONDS = 1
/** Between two lines of the countdown. */
const SAID_SECONDS = 10

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
