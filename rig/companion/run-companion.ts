// A companion at work: lets rigs in, holds their journals, shows what they ask, writes down what it sees, and acts on silence as it was allowed to.
import { hostname } from 'node:os'
import { join } from 'node:path'
import { createPairing } from '@guardband/link/pairing'
import { keepCertificate } from '@guardband/link/certificate'
import { lanAddresses } from '@guardband/link/addresses'
import { startTlsServer } from '@guardband/link/tls-server'
import { SpokenError, decodeJournal, type Ask, type JournalBodyOf, type LiveState } from '@guardband/model'
import type { WatchFile } from '@guardband/model/companion'
import type { ApprovalCheck } from '../approval-store.ts'
import { runCommand } from '../command-driver.ts'
import { lockFolder } from '../folder-lock.ts'
import type { JournalDisk } from '../journal-disk.ts'
import { openJournal, type JournalWriter } from '../journal-writer.ts'
import type { Seen } from '../link.ts'
import { clip, type RigSources } from '../rig-context.ts'
import { openHeld, type LetIn } from './held.ts'
import { companionServer } from './server.ts'
import { createWatcher } from './watcher.ts'

export interface CompanionOrder {
  readonly watch: WatchFile
  /** Where everything of this watch is kept. */
  readonly folder: string
  readonly keysFolder: string
  readonly address: string
  readonly port: number
  readonly sources: RigSources
  readonly disk: JournalDisk
  readonly approvals: ApprovalCheck
  readonly say: (line: string) => void
  /** What a person types, a line each. */
  readonly lines: AsyncIterable<string>
  readonly who: string
  readonly signal: AbortSignal
  /** Something new stands in its journals. */
  readonly onSaw?: () => void
}

export interface CompanionAddress {
  readonly url: string
  readonly fingerprint: string
}

/** Works until the signal; `ready` is called once it listens. */
export async function runCompanion(order: CompanionOrder, ready: (address: CompanionAddress) => void = () => {}): Promise<void> {
  const { watch, folder, sources, disk, say, signal } = order
  await disk.makeFolder(folder)
  const release = lockFolder(folder, sources)
  const journalFolder = join(folder, 'journals')
  try {
    await disk.makeFolder(journalFolder)
    const past = await readPast(disk, journalFolder)
    const writer = await openJournal({
      disk, folder: journalFolder, first: [],
      open: { type: 'watch', at: moment(sources), format: 1, journal: sources.newId(), program: PROGRAM, rig: watch.rig, bootId: sources.bootId, previous: past.last },
    })
    await watchOver(order, { writer, seen: past.saws }, ready)
    await writer.close({ type: 'close', at: moment(sources), reason: 'the companion was stopped' })
  } finally {
    release()
  }
  say(signal.aborted ? 'The companion has stopped. Rigs go on without it.' : 'The companion has ended.')
}

const PROGRAM = 'guardband companion 0.1.0'
const LOOK_MS = 1000
/** A rig that was paired anew may speak by another device once the one before has been silent for so long. */
const ANOTHER_SECONDS = 60

type Saw = JournalBodyOf<'saw'>

async function readPast(disk: JournalDisk, folder: string): Promise<{ readonly saws: Saw[]; readonly last: { readonly journal: string; readonly lastHash: string } | null }> {
  const saws: Saw[] = []
  let last: { readonly journal: string; readonly lastHash: string } | null = null
  for (const name of (await disk.list(folder)).filter((file) => file.endsWith('.journal'))) {
    const { entries } = decodeJournal(await disk.read(join(folder, name)))
    const first = entries[0]?.body
    if (first?.type !== 'watch') continue
    saws.push(...entries.flatMap(({ body }) => (body.type === 'saw' ? [body] : [])))
    last = { journal: first.journal, lastHash: entries[entries.length - 1].hash }
  }
  return { saws, last }
}

async function watchOver(order: CompanionOrder, { writer, seen }: { readonly writer: JournalWriter; readonly seen: Saw[] }, ready: (address: CompanionAddress) => void): Promise<void> {
  const { watch, folder, sources, approvals, say, signal } = order
  const held = openHeld(folder, sources.newId)
  const pairing = createPairing({ now: sources.now, fillRandom: (bytes) => void crypto.getRandomValues(bytes) })
  const watcher = createWatcher({ silenceSeconds: watch.silenceSeconds, waits: watch.actions.map(({ waitSeconds }) => waitSeconds), mostPerHour: watch.mostPerHour }, pastActions(seen, sources))
  let state: LiveState | null = null
  /** Named or handed over last: a rig may fall silent between the two. */
  let journal: string | null = null
  let given: { readonly ask: string; readonly answer: string; readonly who: string; readonly at: string } | null = null

  const saw = async (what: Saw['what'], text: string, exitStatus?: number | null): Promise<void> => {
    const body: Saw = { type: 'saw', at: moment(sources), what, ...aboutOf(journal, held.bytes), text: clip(text), ...(exitStatus === undefined ? {} : { exitStatus }) }
    await writer.writeSynced(body)
    seen.push(body)
    say(`${what}: ${text}`)
    order.onSaw?.()
  }
  /** The device that spoke for the rig last. */
  let own: { readonly id: string; readonly at: number } | null = null
  const heard = (device: LetIn, next: LiveState): readonly NonNullable<typeof given>[] => {
    if (next.rig !== watch.rig) throw new SpokenError({ code: 'other-rig', message: `this companion watches over "${watch.rig}"; got "${next.rig}".`, mend: 'Give its watch file the name that the plan has for its rig.' })
    const now = sources.monotonic()
    if (own !== null && own.id !== device.id && now - own.at < ANOTHER_SECONDS) {
      throw new SpokenError({ code: 'another-device', message: `another device speaks for "${watch.rig}" at this companion.`, mend: 'A companion watches over one rig; start a second one for the other.' })
    }
    own = { id: device.id, at: now }
    if (watcher.heard(next.state, now)) {
      // A fault of the disk shows with the next thing that is seen, and ends the companion there.
      saw('heard again', `${watch.rig} is heard again: ${next.state}`).catch((cause: unknown) => say(String(cause)))
    }
    if (next.ask !== null && next.ask.id !== state?.ask?.id) showAsk(next.ask, say)
    if (next.journal !== null && next.journal !== state?.journal) journal = next.journal
    state = next
    if (given !== null && given.ask !== next.ask?.id) given = null
    return given === null ? [] : [given]
  }
  const certificate = keepCertificate(order.keysFolder, [...lanAddresses(), '127.0.0.1'], { now: sources.now, fillRandom: (bytes) => void crypto.getRandomValues(bytes) })
  const server = await startTlsServer({
    address: order.address, port: order.port, certificate,
    makeServer: companionServer({ name: `companion on ${hostname()}`, held, pairing, now: sources.now, heard, say, handed: (device, id) => void (own === null || own.id === device.id ? (journal = id) : undefined), seen: (journal): readonly Seen[] => seen.filter((each) => each.journal === journal).map(({ at, what, text }) => ({ at, what, text })) }),
  })
  const url = `https://${order.address}:${server.port}`
  say(`This companion watches over "${watch.rig}" and listens on ${url}`)
  say(`certificate ${(certificate.fingerprint.match(/.{4}/g) ?? []).join(' ')}`)
  const offerCode = (): void => {
    const { code } = pairing.open()
    say(`On the rig, within five minutes: npx guardband rig pair ${url} --code ${code} --fingerprint "${certificate.fingerprint}"`)
  }
  if (held.devices().length === 0) offerCode()
  say('Type "code" to let the rig in anew, "post D4" to note a POST code, "note ..." to note something, or the answer to what the rig asks.')
  ready({ url, fingerprint: certificate.fingerprint })

  const typed = async (line: string): Promise<void> => {
    const text = line.trim()
    const post = /^post\s+(\S{1,20})$/i.exec(text)?.[1]
    const note = /^note\s+(.+)$/is.exec(text)?.[1]
    if (text.toLowerCase() === 'code') return offerCode()
    if (post !== undefined) return saw('POST code', post)
    if (note !== undefined) return saw('note', note)
    const ask = state?.ask ?? null
    if (ask === null) return say(text === '' ? 'Nothing is asked.' : 'Nothing is asked; notes begin with "note".')
    const answer = ask.kind === 'done' ? '' : text
    if (ask.kind === 'choice' && !ask.words.includes(answer)) return say(`The answer must be one of ${ask.words.join(', ')}.`)
    if (ask.kind === 'value' && answer === '') return say('The answer must not be empty.')
    given = { ask: ask.id, answer, who: order.who, at: moment(sources) }
    say('The rig is told.')
  }
  void (async () => {
    for await (const line of order.lines) await typed(line).catch((cause: unknown) => say(cause instanceof Error ? cause.message : String(cause)))
  })()

  try {
    while (!signal.aborted) {
      const step = watcher.look(sources.monotonic())
      if (step.kind === 'silence') await saw('silence', `no heartbeat for ${Math.round(step.seconds)} s`)
      else if (step.kind === 'given up') await saw('note', step.why)
      else if (step.kind === 'act') {
        const { name, command } = watch.actions[step.action]
        try {
          const { program, folder: working, environment } = approvals(command)
          const [calledAs, ...args] = command.run
          const end = await runCommand({ executable: program.path, calledAs, args, folder: working, environment, timeLimitSeconds: command.timeLimitSeconds }, { monotonic: sources.monotonic, signal })
          await saw('action', `${name}: ${end.how === 'ended' ? `ended with ${end.exitStatus === null ? `signal ${end.signal ?? 'unknown'}` : `status ${end.exitStatus}`}` : end.how === 'time limit' ? 'was ended after its time limit' : end.how === 'stopped' ? 'was broken off when the companion was stopped' : `did not start${end.message === undefined || end.message === null ? '' : ` (${end.message})`}`}`, end.exitStatus)
        } catch (cause) {
          // Not approved, or no longer what was approved: it is not carried out, and that is on record.
          await saw('note', `${name} was not carried out: ${cause instanceof SpokenError ? cause.sentence : String(cause)}`)
        }
        watcher.acted(sources.monotonic())
      }
      await sources.sleep(LOOK_MS, signal).catch(() => {})
    }
  } finally {
    await server.close()
  }
}

/** By the clock, since this program's own began anew; what lies in the future of it counts as just now. */
function pastActions(seen: readonly Saw[], { now, monotonic }: RigSources): readonly number[] {
  return seen.filter(({ what }) => what === 'action').map(({ at }) => monotonic() - Math.max(0, now() - Date.parse(at)) / 1000)
}

function moment({ now }: RigSources): string {
  return new Date(now()).toISOString()
}

/** The journal that the rig writes, its start, and the run in it that has no end yet, as far as the mirrored bytes tell. */
function aboutOf(journal: string | null, bytesOf: (journal: string) => Uint8Array): Pick<Saw, 'journal' | 'startId' | 'runId'> {
  if (journal === null) return { journal: null, startId: null, runId: null }
  const bodies = decodeJournal(bytesOf(journal)).entries.map(({ body }) => body)
  const open = bodies.find((body) => body.type === 'open')
  const begin = bodies.findLast((body) => body.type === 'begin')
  const ended = bodies.some((body) => body.type === 'end' && body.runId === begin?.runId)
  return { journal, startId: open?.startId ?? null, runId: begin === undefined || ended ? null : begin.runId }
}

function showAsk({ text, words, lines, kind }: Ask, say: (line: string) => void): void {
  say(`The rig asks: ${text}`)
  for (const { number, key, where, from, to } of lines) say(`  ${String(number).padStart(2)}  ${key}${where === '' ? '' : ` (${where})`}: ${from ?? 'not known'} → ${to}`)
  say(kind === 'done' ? '  Press Enter when it is done.' : kind === 'choice' ? `  Type ${words.join(' or ')}.` : '  Type the value.')
}
