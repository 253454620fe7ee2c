// Tunes as people ask about them: listed with what each changes, one whole with what came of it, and the difference between two. Page and command line read the same.
import {
  ceilingFindings, askedValues, settingPlace, settingsOfTune, SpokenError, type InForce, type LabRecord, type Setting, type SettingKind, type Start, type Tune, type TuneSetting,
} from '@guardband/model'
import type { ResolvedSetting, StartToName, TuneDifference, TuneListRow, TuneStart, TuneWhole } from '@guardband/model/api/tunes'
import { appliedOf, type Applied } from '@guardband/model/settings/applied'
import { ceilingDistance } from '@guardband/model/settings/ceiling-distance'
import { differenceOf, differingRows, inSeries, placeName, rowInWords, sameAsked, type SideSetting } from '@guardband/model/settings/differences'
import { knownSettings, type KnownSetting } from '@guardband/model/settings/setting-book'
import { counted } from '@guardband/model/figures'
import { settingText } from '@guardband/model/records/tune'
import { settingKey } from '@guardband/model/ceilings'
import type { Lab } from './lab.ts'
import { aboutName, describeRecord } from './store/describe.ts'
import { startInSentence } from './store/start-name.ts'

type Source = Pick<Lab, 'get' | 'list' | 'tunes' | 'ofStart'>

export function tuneList(lab: Source): readonly TuneListRow[] {
  const rows = lab.tunes()
  const look = lookAmong(rows.map(({ tune }) => tune))
  const kinds = lab.list('setting kind')
  return rows.map(({ tune, baseName, starts, runs }) => {
    const settings = resolved(tune, look)
    return {
      id: tune.id, name: tune.name, baseId: tune.baseId ?? null, baseName, own: tune.settings.length, all: settings.length,
      words: changesInWords({ tune, baseName, settings, look, kinds }), starts, runs, override: tune.override !== undefined,
    }
  })
}

export function tuneWhole(lab: Source, id: string): TuneWhole {
  const rows = lab.tunes()
  const row = rows.find(({ tune }) => tune.id === id)
  if (row === undefined) throw noTune(id)
  const { tune, baseName, starts, runs } = row
  const look = lookAmong(rows.map((other) => other.tune))
  const kinds = lab.list('setting kind')
  const ceilings = lab.list('ceiling')
  const settings = resolved(tune, look)
  const findings = ceilingFindings({ settings: askedValues(settings), ceilings })
  const past = new Set(findings.map(settingPlace))
  const asked = askedStarts(lab, tune, settings)
  const domains = new Map(kinds.map((kind) => [settingKey(kind.name), kind.domain]))
  return {
    tune,
    base: tune.baseId === undefined ? null : { id: tune.baseId, name: baseName ?? 'a tune that is gone' },
    settings: settings.map((setting): ResolvedSetting => ({
      setting: { key: setting.key, scope: setting.scope, asked: setting.asked },
      group: domains.get(settingKey(setting.key)) ?? levelName(setting.scope.level),
      place: placeName(setting.scope),
      from: { id: setting.fromTuneId, name: nameOf(look(setting.fromTuneId)) },
      ceiling: ceilingDistance({ key: setting.key, asked: setting.asked, ceilings }),
      past: past.has(settingPlace(setting)),
      came: cameOf(setting, asked.inForce),
    })),
    words: changesInWords({ tune, baseName, settings, look, kinds }),
    starts,
    runs,
    above: rows.filter((other) => other.tune.id !== id && standsOn(other.tune, id, look)).map((other) => ({ id: other.tune.id, name: other.tune.name, starts: other.starts, runs: other.runs })),
    past: findings.map(({ ceilingId, sentence }) => ({ ceilingId, sentence, override: tune.override?.ceilingIds.includes(ceilingId) === true })),
    asked: asked.told,
    questions: lab.list('question').filter(({ ask }) => ask.about.a.tuneId === id || ask.about.b.tuneId === id).map((question) => ({ id: question.id, title: question.title ?? aboutName(question.ask.about, lab.get) })),
  }
}

/** Each side is a tune, what was in force, or a start (what was in force in it first). */
export function tuneDifference(lab: Source, a: string, b: string): TuneDifference {
  const [left, right] = [sideOf(lab, a), sideOf(lab, b)]
  const kinds = lab.list('setting kind')
  const applied = left.is === 'tune' && right.is === 'in force' ? appliedOf({ asked: left.settings, inForce: right.inForce?.settings ?? [], kinds }) : null
  const difference = differenceOf({ a: { name: left.name, settings: left.settings }, b: { name: right.name, settings: right.settings }, kinds })
  const told = applied === null ? difference : { ...difference, text: difference.text.replace(difference.sentence, applied.sentence) }
  return {
    a: { id: left.id, name: left.name, is: left.is },
    b: { id: right.id, name: right.name, is: right.is },
    difference: { ...told, groups: told.groups.map(({ name, rows }) => ({ name, rows: rows.map((row) => ({ ...row, points: [...row.points] })) })) },
    applied: applied === null ? null : { ...applied, otherwise: applied.otherwise.map((row) => ({ ...row, points: [...row.points] })), autos: [...applied.autos], unseen: [...applied.unseen] },
    notes: [...left.notes, ...right.notes, ...otherTune(left, right)],
  }
}

export function settingsKnown(lab: Source, except?: string): readonly KnownSetting[] {
  const tunes = lab.list('tune')
  const written = tunes.find(({ id }) => id === except)
  return knownSettings({ kinds: lab.list('setting kind'), tunes: tunes.filter(({ id }) => id !== except), ...(written === undefined ? {} : { written }) })
}

export function startsToName(lab: Source): readonly StartToName[] {
  const newest = newestFirst(lab.list('start')).slice(0, MOST_STARTS_TO_NAME)
  return newest.map((start) => ({
    id: start.id,
    name: capital(describeRecord(start, lab.get)),
    tuneId: start.tuneId ?? null,
    tuneName: start.tuneId === undefined ? null : nameOf(lab.get(start.tuneId)),
    inForce: inForceOf(lab, start.id).map((held) => ({ id: held.id, settings: held.settings.length, tuneId: held.tuneId ?? null })),
  }))
}

const MOST_STARTS_TO_NAME = 200
const MOST_ASKED = 50
const MOST_WORDS = 4

type Look = (id: string) => LabRecord | undefined

function lookAmong(tunes: readonly Tune[]): Look {
  const byId = new Map(tunes.map((tune) => [tune.id, tune]))
  return (id) => byId.get(id)
}

/** Writes refuse a ring; one that came in otherwise must not take every list with it. */
function resolved(tune: Tune, look: Look): readonly TuneSetting[] {
  try {
    return settingsOfTune(tune, look)
  } catch (error) {
    if (!(error instanceof SpokenError)) throw error
    return tune.settings.map((setting) => ({ ...setting, fromTuneId: tune.id }))
  }
}

function changesInWords(input: { readonly tune: Tune; readonly baseName: string | null; readonly settings: readonly TuneSetting[]; readonly look: Look; readonly kinds: readonly SettingKind[] }): string {
  const { tune, baseName, settings, look, kinds } = input
  const base = tune.baseId === undefined ? undefined : look(tune.baseId)
  if (base?.kind !== 'tune') return settings.length === 0 ? 'asks for nothing: the machine as it comes' : `asks for ${counted(settings.length, 'setting')}`
  const { rows } = differingRows(resolved(base, look), settings, kinds)
  if (rows.length === 0) return `asks for the same as ${baseName ?? 'its base'}`
  return inSeries(rows.slice(0, MOST_WORDS).map(rowInWords), rows.length - MOST_WORDS)
}

function standsOn(tune: Tune, id: string, look: Look): boolean {
  const seen = new Set<string>()
  for (let at: LabRecord | undefined = tune; at?.kind === 'tune' && !seen.has(at.id); at = at.baseId === undefined ? undefined : look(at.baseId)) {
    if (at.baseId === id) return true
    seen.add(at.id)
  }
  return false
}

interface AskedStarts {
  readonly told: TuneWhole['asked']
  readonly inForce: readonly InForce[]
}

function askedStarts(lab: Source, tune: Tune, settings: readonly Setting[]): AskedStarts {
  const starts = newestFirst(lab.list('start').filter(({ tuneId }) => tuneId === tune.id))
  const held = Map.groupBy(lab.list('in force'), ({ startId }) => startId)
  const of = (start: Start): InForce | undefined => {
    const all = held.get(start.id) ?? []
    return all.find(({ tuneId }) => tuneId === tune.id) ?? all[0]
  }
  const instead = (start: Start): string | null => (start.result !== 'started' ? start.result : start.training?.result === 'fallback' ? 'memory training fell back' : of(start)?.tuneId === tune.id || of(start) === undefined ? null : 'something else in force')
  const rows = starts.slice(0, MOST_ASKED).map((start): TuneStart => {
    const record = of(start)
    const applied = record === undefined || record.settings.length === 0 ? null : appliedOf({ asked: settings, inForce: record.settings })
    return {
      startId: start.id,
      inForceId: record?.id ?? null,
      name: capital(startInSentence(start, null)),
      at: start.at ?? null,
      instead: instead(start),
      known: record?.known ?? null,
      sentence: applied === null ? (record === undefined ? 'Nothing is recorded of what was in force.' : record.tuneId === tune.id ? `Taken as the tune: ${record.known}, without single values.` : 'What was in force is not recorded value by value.') : startWords(applied, settings),
      otherwise: applied?.otherwise.length ?? 0,
    }
  })
  const inForce = starts.flatMap((start) => (of(start)?.tuneId === tune.id ? [of(start)] : [])).filter((record) => record !== undefined)
  return {
    told: { starts: starts.length, fallbacks: starts.filter((start) => instead(start) !== null).length, unseen: starts.filter((start) => (of(start)?.settings.length ?? 0) === 0).length, rows },
    inForce,
  }
}

/** One line of many: what came as asked is only counted. */
function startWords(applied: Applied, settings: readonly Setting[]): string {
  if (applied.otherwise.length > 0) return applied.sentence
  const wanted = settings.filter(({ asked }) => asked.shape !== 'unchanged').length
  const autos = applied.autos.length === 0 ? '' : `; auto came to ${applied.autos.slice(0, MOST_WORDS).map(({ key, value }) => `${value} for ${key}`).join(', ')}`
  return `As asked, in ${applied.asAsked + applied.autos.length} of ${wanted} looked at${autos}.`
}

function cameOf(setting: TuneSetting, inForce: readonly InForce[]): ResolvedSetting['came'] {
  const place = settingPlace(setting)
  const tally = new Map<string, ResolvedSetting['came'][number]>()
  for (const record of inForce) {
    const found = record.settings.find((held) => settingPlace(held) === place)
    if (found === undefined) continue
    const value = settingText(found.value)
    const before = tally.get(`${value}|${found.known}`)
    const as = setting.asked.shape === 'auto' || setting.asked.shape === 'unchanged' ? 'chosen by the board' : sameAsked(setting.asked, found.value) ? 'asked' : 'otherwise'
    tally.set(`${value}|${found.known}`, { value, as, starts: (before?.starts ?? 0) + 1, known: found.known })
  }
  return [...tally.values()].toSorted((one, other) => other.starts - one.starts).slice(0, MOST_CAME)
}

const MOST_CAME = 6

interface DifferenceSide {
  readonly id: string
  readonly name: string
  readonly is: 'tune' | 'in force'
  readonly settings: readonly SideSetting[]
  readonly inForce: InForce | null
  readonly start: Start | null
  readonly notes: readonly string[]
}

function sideOf(lab: Source, id: string): DifferenceSide {
  const record = lab.get(id)
  if (record?.kind === 'tune') return { id, name: record.name, is: 'tune', settings: settingsOfTune(record, lab.get), inForce: null, start: null, notes: [] }
  const held = record?.kind === 'in force' ? record : record?.kind === 'start' ? inForceOf(lab, record.id)[0] : undefined
  const start = record?.kind === 'start' ? record : held === undefined ? undefined : lab.get(held.startId)
  if (start?.kind !== 'start') throw noTune(id)
  const fallback = start.result === 'started' ? (start.training?.result === 'fallback' ? ['Memory training fell back in this start: it ran at safe defaults, and counts for no tune.'] : []) : [`This was a ${start.result}: whatever was asked for was not what ran.`]
  const unknown = held === undefined || held.settings.length === 0 ? ['Nobody recorded single values of what was in force in this start.'] : []
  return {
    id, name: `what was in force in ${describeRecord(start, lab.get)}`, is: 'in force', inForce: held ?? null, start,
    settings: (held?.settings ?? []).map(({ key, scope, value, known }) => ({ key, scope, asked: value, known })),
    notes: [...fallback, ...unknown],
  }
}

/** A tune compared with a start that was asked for another one. */
function otherTune(left: DifferenceSide, right: DifferenceSide): readonly string[] {
  const [tune, start] = left.is === 'tune' ? [left, right.start] : [right, left.start]
  if (tune.is !== 'tune' || start === null || start.tuneId === undefined || start.tuneId === tune.id) return []
  return [`That start was asked for another tune than ${tune.name}.`]
}

function inForceOf(lab: Source, startId: string): readonly InForce[] {
  return lab.ofStart(startId).filter((record) => record.kind === 'in force')
}

/** Those without a time go last. */
function newestFirst(starts: readonly Start[]): readonly Start[] {
  return starts.toSorted((one, other) => (other.at ?? '').localeCompare(one.at ?? '') || (one.id < other.id ? 1 : -1))
}

function nameOf(record: LabRecord | undefined): string {
  return record?.kind === 'tune' ? record.name : 'a tune that is gone'
}

function noTune(id: string): SpokenError {
  return new SpokenError({ code: 'no-tune', message: `there is no tune or start ${id}.`, mend: 'Choose one from the list of tunes.' })
}

function levelName(level: Setting['scope']['level']): string {
  return capital(level)
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1)
}

