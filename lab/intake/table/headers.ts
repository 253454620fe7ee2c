// What a header says: the column of a table of runs that it means, in English or German, and the unit that stands in it.
import { findUnit } from '@guardband/model'
import type { Role } from './columns.ts'

export interface HeaderWords {
  /** Without its unit. */
  readonly name: string
  readonly unit?: string
  readonly direction?: 'higher is better' | 'lower is better'
}

/** "Zeit [ms]", "power, W", "Zeit / s", "time in s", "time_ms", "score (higher is better)". */
export function splitHeader(header: string): HeaderWords {
  const text = header.trim().replaceAll(/\s+/g, ' ')
  const bracket = /^(.*?)[\s_]*[([{]\s*([^)\]}]+?)\s*[)\]}]$/.exec(text)
  if (bracket !== null && bracket[1] !== '') {
    const [, name, inside] = bracket
    const unit = knownUnit(inside)
    if (unit !== undefined) return { name, unit }
    const better = /^(higher|lower)(?: is better)?$/i.exec(inside)?.[1].toLowerCase()
    if (better !== undefined) return { name, direction: better === 'higher' ? 'higher is better' : 'lower is better' }
  }
  const tail = /^(.+?)(?:\s*,\s*|\s+in\s+|\s+\/\s*|_)(\S+)$/.exec(text)
  const unit = tail === null ? undefined : knownUnit(tail[2])
  return tail === null || unit === undefined ? { name: text } : { name: tail[1], unit }
}

/** The unit of ours that this spelling means. */
export function knownUnit(text: string): string | undefined {
  const trimmed = text.trim()
  if (trimmed === '1') return undefined
  return findUnit(trimmed)?.symbol ?? UNIT_SPELLINGS.get(trimmed.toLowerCase())
}

const UNIT_SPELLINGS = spellings({
  s: ['sec', 'secs', 'second', 'seconds', 'sek', 'sekunde', 'sekunden'],
  ms: ['msec', 'millisecond', 'milliseconds', 'millisekunden'],
  us: ['µs', 'μs', 'usec', 'microseconds', 'mikrosekunden'],
  min: ['mins', 'minute', 'minutes', 'minuten'],
  h: ['hour', 'hours', 'std.', 'stunden'],
  W: ['w', 'watt', 'watts'],
  J: ['joule', 'joules'],
  degC: ['°c', 'c', 'celsius', 'deg c', 'grad', 'grad c'],
  dBA: ['db', 'dba', 'db(a)', 'db a'],
  points: ['pts', 'pt', 'punkte', 'pkt', 'pkt.'],
  fps: ['frames/s', 'bilder/s'],
  V: ['v', 'volt', 'volts'],
  MHz: ['mhz'],
  GHz: ['ghz'],
})

/** The column that a header means, or that its values measure something; undefined where it could be anything. */
export function recogniseHeader(header: string): Role | undefined {
  const { name, unit } = splitHeader(header)
  const folded = foldWords(name)
  const measure = MEASURE_WORDS.get(folded)
  // "time" is when it ran, "time (s)" how long it took.
  if (measure !== undefined && (unit !== undefined || !ROLES.has(folded))) return 'measure'
  return ROLES.get(folded)
}

/** The measure that a word of a header names: "Leistung" is power. */
export function measureWord(text: string): string | undefined {
  return MEASURE_WORDS.get(foldWords(text))
}

/** "tile render power" is power of tile render. */
export function splitMeasureWord(text: string): { readonly rest: string; readonly measure: string } | undefined {
  const words = text.trim().split(/[\s_]+/)
  for (const count of [2, 1]) {
    if (words.length <= count) continue
    const measure = measureWord(words.slice(-count).join(' '))
    if (measure !== undefined) return { rest: words.slice(0, -count).join(' ').replace(/[\s,:–-]+$/, ''), measure }
  }
  return undefined
}

/** Which repeat a header counts: "run 3", "Lauf 3", "#3". */
export function repeatNumber(header: string): { readonly repeat: number; readonly name: string } | undefined {
  const found = /^(?:(.*?)\s*)?(?:\b(?:run|repeat|rep|pass|trial|iteration|lauf|durchlauf|wiederholung|wdh\.?)\s*#?\s*|#\s*)(\d{1,4})$/i.exec(splitHeader(header).name)
  return found === null ? undefined : { repeat: Number(found[2]), name: (found[1] ?? '').trim() }
}

/** A name for what a unit measures, where nothing else names it. */
export function measureOfUnit(unit: string | undefined): string | undefined {
  return unit === undefined ? undefined : UNIT_MEASURES[findUnit(unit)?.quantity ?? '']
}

const UNIT_MEASURES: Readonly<Record<string, string>> = {
  score: 'score', time: 'time', 'frame rate': 'frame rate', rate: 'rate', bandwidth: 'bandwidth', power: 'power', energy: 'energy', frequency: 'clock', voltage: 'voltage', temperature: 'temperature', 'sound level': 'noise',
}

export function foldWords(text: string): string {
  return text.trim().toLowerCase().replaceAll(/[\s_.:-]+/g, ' ').trim()
}

const MEASURE_WORDS = spellings({
  time: ['time', 'zeit', 'laufzeit', 'runtime', 'run time', 'elapsed'],
  score: ['score', 'points', 'punkte', 'punktzahl'],
  power: ['power', 'leistung', 'watt', 'watts', 'leistungsaufnahme', 'verbrauch'],
  energy: ['energy', 'energie'],
  temperature: ['temperature', 'temp', 'temperatur'],
  noise: ['noise', 'lautstärke', 'schallpegel'],
  'frame rate': ['frame rate', 'fps', 'bildrate'],
  bandwidth: ['bandwidth', 'throughput', 'bandbreite', 'durchsatz'],
  latency: ['latency', 'latenz'],
  clock: ['clock', 'frequency', 'takt', 'frequenz'],
  voltage: ['voltage', 'spannung'],
})

const ROLES = spellings<Role>({
  part: ['part', 'product', 'processor', 'cpu', 'model', 'part name', 'teil', 'produkt', 'prozessor', 'modell'],
  sample: ['sample', 'sample id', 'sample no', 'sample label', 'specimen', 'unit id', 'unit no', 'dut', 'serial', 'serial number', 'serial no', 'sn', 's/n', 'exemplar', 'muster', 'prüfling', 'seriennummer', 'chip'],
  picked: ['picked', 'how picked', 'auswahl'],
  origin: ['origin', 'where from', 'herkunft'],
  batch: ['batch', 'batch code', 'lot', 'week code', 'charge'],
  slot: ['slot', 'steckplatz'],
  tune: ['tune', 'settings', 'setting', 'profile', 'configuration', 'config', 'einstellung', 'einstellungen', 'profil', 'konfiguration'],
  rig: ['rig', 'bench', 'test bench', 'station', 'host', 'machine', 'prüfstand', 'platz', 'rechner'],
  start: ['start', 'start no', 'start nr', 'boot', 'boot no', 'power on', 'poweron', 'session', 'startnummer', 'einschalten'],
  how: ['how', 'start type', 'boot type', 'startart'],
  time: ['time', 'timestamp', 'date time', 'datetime', 'when', 'zeitpunkt', 'zeitstempel', 'started at'],
  date: ['date', 'day', 'datum', 'tag'],
  clock: ['clock', 'time of day', 'uhrzeit'],
  firmware: ['firmware', 'firmware version', 'bios', 'bios version', 'fw', 'uefi'],
  system: ['system', 'system image', 'image', 'os', 'os build', 'betriebssystem'],
  ambient: ['ambient', 'ambient temperature', 'ambient temp', 'room', 'room temperature', 'raumtemperatur', 'umgebung', 'umgebungstemperatur'],
  workload: ['workload', 'workload name', 'test', 'test name', 'task', 'job', 'aufgabe', 'last', 'scenario', 'szenario'],
  group: ['group', 'category', 'gruppe', 'kategorie'],
  measure: [],
  'measure name': ['measure', 'metric', 'messgröße', 'messgroesse'],
  unit: ['unit', 'units', 'einheit'],
  direction: ['direction', 'better', 'richtung'],
  value: ['value', 'result', 'reading', 'wert', 'messwert', 'ergebnis'],
  outcome: ['outcome', 'status', 'verdict', 'pass fail', 'pass/fail', 'state', 'ausgang', 'zustand'],
  phase: ['phase'],
  place: ['place', 'failed at', 'stelle', 'ort'],
  order: ['order', 'sequence', 'seq', 'reihenfolge'],
  seconds: ['seconds', 'duration', 'dauer'],
  known: ['known', 'how known'],
  note: ['note', 'notes', 'comment', 'comments', 'remark', 'remarks', 'bemerkung', 'bemerkungen', 'kommentar', 'notiz', 'anmerkung'],
  repeat: ['repeat', 'rep', 'run', 'run no', 'iteration', 'trial', 'wiederholung', 'lauf', 'durchlauf'],
  'left out': [],
})

function spellings<Meaning extends string>(table: Readonly<Record<Meaning, readonly string[]>>): ReadonlyMap<string, Meaning> {
  // The keys of a literal are its meanings.
  return new Map((Object.entries(table) as [Meaning, readonly string[]][]).flatMap(([meaning, words]) => words.map((word) => [word, meaning] as const)))
}
