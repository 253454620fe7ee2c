// The numbered sheet of a tune that a person puts in force: what must differ from what is in force now, a line each.
import { counted, settingKey, settingPlace, settingText, type Asked, type ChangeLine, type JournalBody, type JournalBodyOf, type Plan, type PlanTune, type Setting } from '@guardband/model'
import { placeName, sameAsked } from '@guardband/model/settings/differences'
import { putsInForce, readJournalFolder } from './journal-folder.ts'
import type { Question } from './people.ts'
import type { RigContext } from './rig-context.ts'

/** What the journals tell of the machine as it is now. */
export interface InForceNow {
  /** Null where no tune is known to be in force. */
  readonly tune: string | null
  readonly observed: JournalBodyOf<'in force'>['observed']
}

/** What a person is asked where no command puts the tune in force. */
export async function handQuestion(context: RigContext, tune: PlanTune, step: string): Promise<Question> {
  const lines = await sheetOf(context, tune)
  return { kind: 'done', step, text: handText(context.plan, tune, lines), lines }
}

/** Against the last record of what was in force. Journals that can't be read make a sheet that knows of nothing. */
export async function sheetOf({ plan, planHash, disk, journalFolder }: Pick<RigContext, 'plan' | 'planHash' | 'disk' | 'journalFolder'>, tune: PlanTune): Promise<readonly ChangeLine[]> {
  const journals = await readJournalFolder(disk, journalFolder, planHash).then((reading) => reading.journals, () => [])
  return changeLines(plan, tune, inForceNow(plan, journals.flatMap(({ entries }) => entries.map(({ body }) => body))))
}

/**
 * From the records of all journals in the order of their chain, the last of them being the one that asks. The last observation counts. Where a tune was
 * put in force by a command since, or half put in force, nothing is known any more.
 */
export function inForceNow({ tunes }: Plan, bodies: readonly JournalBody[]): InForceNow {
  const at = bodies.findLastIndex(({ type }) => type === 'in force')
  const last = bodies[at]
  if (last?.type !== 'in force') return NOTHING_KNOWN
  // The last such note is that of the change in hand.
  const putting = bodies.slice(at + 1).flatMap((body, index) => (putsInForce(body) ? [index + at + 1] : [])).slice(0, -1)
  const byHand = tunes.every(({ apply }) => apply === undefined)
  const touched = putting.some((note) => !byHand || !closes(bodies.slice(note + 1)))
  return touched ? NOTHING_KNOWN : { tune: last.tune, observed: last.observed }
}

const NOTHING_KNOWN: InForceNow = { tune: null, observed: [] }

/** Nobody was there to put it in force, and the rig stopped: as against one that went down in the middle. */
function closes(after: readonly JournalBody[]): boolean {
  const next = after.find(({ type }) => type === 'close' || type === 'open')
  return next?.type === 'close'
}

/**
 * A tune's settings stand on those of the plan's base. What the tune in force set and this one does not name goes back to the base's value, and to "auto"
 * where the base has none or the plan names no base; what it asks to be left unchanged gets no line. Of a tune whose settings the plan does not list
 * nothing is known, and there is no sheet.
 */
export function changeLines(plan: Plan, tune: PlanTune, now: InForceNow): readonly ChangeLine[] {
  const wanted = settingsOf(plan, tune)
  if (wanted.asked.size === 0 && wanted.unchanged.size === 0 && plan.base === undefined) return []
  const tuneNow = plan.tunes.find(({ name }) => name === now.tune)
  const held = tuneNow === undefined ? new Map<string, Setting>() : settingsOf(plan, tuneNow).asked
  const read = readingsOf(now)
  const places = [...wanted.asked.keys(), ...[...held.keys()].filter((place) => !wanted.asked.has(place) && !wanted.unchanged.has(place))]
  const rows = places.flatMap((place): readonly Omit<ChangeLine, 'number'>[] => {
    const [setting, before] = [wanted.asked.get(place), held.get(place)]
    const either = setting ?? before
    if (either === undefined) return []
    const to: Asked = setting?.asked ?? { shape: 'auto' }
    const found = read.get(place)
    const from = before?.asked ?? found
    if (from !== undefined && sameAsked(from, to)) return []
    return [{ key: either.key, where: placeName(either.scope).slice(0, LONGEST_WHERE), from: from === undefined ? null : fromText(from, found).slice(0, LONGEST_VALUE), to: settingText(to).slice(0, LONGEST_VALUE) }]
  })
  return rows.slice(0, MOST_LINES).map((row, index) => ({ number: index + 1, ...row }))
}

/** As a terminal shows them: numbered, in columns. */
export function sheetLines(lines: readonly ChangeLine[]): readonly string[] {
  const rows = lines.map(({ number, key, where, from, to }) => ({ number: String(number), name: where === '' ? key : `${key}, ${where}`, from: from ?? 'not known', to }))
  const width = (column: 'number' | 'name' | 'from') => Math.max(0, ...rows.map((row) => row[column].length))
  const [numbers, names, values] = [width('number'), width('name'), width('from')]
  return rows.map(({ number, name, from, to }) => `    ${number.padStart(numbers)}  ${name.padEnd(names)}  ${from.padStart(values)}  →  ${to}`)
}

/** As the contract for what a rig asks allows. */
const MOST_LINES = 500
const LONGEST_WHERE = 100
const LONGEST_VALUE = 500

function handText({ base }: Plan, { name, settings }: PlanTune, lines: readonly ChangeLine[]): string {
  const put = `Put the tune "${name}" in force`
  if (lines.length === 0) return settings.length === 0 && name !== base ? `${put}.` : `${put}. Nothing in it differs from what is in force now.`
  const rest = base === undefined ? 'auto' : base === name ? 'auto where it says nothing' : `what "${base}" says, or to auto`
  return [`${put}: ${counted(lines.length, 'setting')} to change. What it does not name goes back to ${rest}.`, 'Change them as listed.'].join('\n')
}

interface TuneSettings {
  /** By place, base first. */
  readonly asked: ReadonlyMap<string, Setting>
  /** Places that are to be left as they are, whatever they are. */
  readonly unchanged: ReadonlySet<string>
}

function settingsOf(plan: Plan, tune: PlanTune): TuneSettings {
  const base = tune.name === plan.base ? undefined : plan.tunes.find(({ name }) => name === plan.base)
  const asked = new Map<string, Setting>()
  const unchanged = new Set<string>()
  for (const setting of [...(base?.settings ?? []), ...tune.settings]) {
    const place = settingPlace(setting)
    if (setting.asked.shape !== 'unchanged') {
      asked.set(place, setting)
      unchanged.delete(place)
    } else if (!asked.has(place)) unchanged.add(place)
  }
  return { asked, unchanged }
}

/** What was read of single settings. Where a person vouched for the tune against a reading, that reading is not what was in force. */
function readingsOf({ tune, observed }: InForceNow): ReadonlyMap<string, Asked> {
  return new Map(observed.flatMap(({ key, found, unit, matches }): [string, Asked][] => {
    if (found === null || found === '' || (tune !== null && !matches)) return []
    const place = settingPlace({ key: settingKey(key), scope: { level: 'machine' } })
    return [[place, typeof found === 'number' ? { shape: 'scalar', value: found, unit: unit ?? '' } : { shape: 'mode', mode: found }]]
  }))
}

/** What the board chose where the choice was left to it. */
function fromText(from: Asked, found: Asked | undefined): string {
  return from.shape === 'auto' && found !== undefined && found.shape !== 'auto' ? `auto (${settingText(found)})` : settingText(from)
}
