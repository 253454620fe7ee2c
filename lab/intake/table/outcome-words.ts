// Words that people write where a figure should stand, and the outcome that each means. A word that is not here is asked about.
import { nearest, outcomeSchema, type Outcome, type OutcomeWord } from '@guardband/model'

export type Meaning = OutcomeWord['outcome'] | 'well'

export function foldOutcome(word: string): string {
  return word.trim().toLowerCase().replaceAll(/[\s_-]+/g, ' ').replace(/[.!?:]+$/, '').trim() || '-'
}

/** `said` are the meanings that a person gave; they come first. 'well' is a run that went through, whether it has a figure or not. */
export function meaningOf(word: string, said: ReadonlyMap<string, OutcomeWord['outcome']>): Meaning | undefined {
  const folded = foldOutcome(word)
  return said.get(folded) ?? outcomes.get(folded) ?? WORDS.get(folded)
}

export function nearOutcome(word: string): Outcome | undefined {
  return nearest(foldOutcome(word), outcomeSchema.options)
}

const outcomes: ReadonlyMap<string, Outcome> = new Map(outcomeSchema.options.map((outcome) => [outcome, outcome]))

const MEANINGS: Readonly<Record<Exclude<Meaning, 'throttled' | 'scored'> | 'throttled', readonly string[]>> = {
  well: ['ok', 'okay', 'pass', 'done', 'finished', 'good', 'success', 'bestanden', 'gut', 'fertig', 'in ordnung', 'i.o', 'io'],
  passed: [],
  'not run': ['-', '–', '—', '--', 'n/a', 'na', 'n.a', 'none', 'not run', 'skipped', 'skip', 'tbd', 'todo', 'nicht gelaufen', 'ausgelassen', 'k.a', 'ka', 'entfällt'],
  errors: ['error', 'err', 'fail', 'failed', 'failure', 'fehler', 'fehlgeschlagen', 'nicht bestanden', '#error', '#err'],
  'wrong result': ['wrong', 'mismatch', 'miscompare', 'wrong output', 'falsch', 'falsches ergebnis'],
  'program died': ['crash', 'crashed', 'app crash', 'program crash', 'segfault', 'died', 'absturz', 'abgestürzt', 'programmabsturz'],
  hung: ['hang', 'hangs', 'freeze', 'froze', 'frozen', 'stuck', 'timeout', 'hängt', 'aufgehängt', 'eingefroren', 'steht'],
  'machine reset': ['reset', 'reboot', 'rebooted', 'restart', 'bsod', 'blue screen', 'bluescreen', 'stop screen', 'panic', 'kernel panic', 'neustart', 'systemabsturz', 'reset ausgelöst'],
  'protection trip': ['trip', 'tripped', 'shutdown', 'shut down', 'overcurrent', 'thermal shutdown', 'abgeschaltet', 'abschaltung', 'notabschaltung'],
  'device lost': ['lost device', 'driver reset', 'gpu lost', 'gerät verloren', 'treiber neu gestartet'],
  throttled: ['throttle', 'throttling', 'thermal throttle', 'gedrosselt', 'drosselt'],
  'stopped by a person': ['stopped', 'aborted', 'abort', 'cancelled', 'canceled', 'abgebrochen', 'abbruch'],
  'no start': ['no boot', 'no post', 'wont boot', "won't boot", 'did not start', 'kein start', 'startet nicht', 'bootet nicht'],
  'fallback start': ['fallback', 'safe mode', 'safe defaults', 'notlauf'],
  'system fails to load': ['no os', 'os fails to load', 'system lädt nicht'],
}

// The keys of a literal are its meanings.
const WORDS: ReadonlyMap<string, Meaning> = new Map((Object.entries(MEANINGS) as [Meaning, readonly string[]][]).flatMap(([meaning, words]) => words.map((word) => [foldOutcome(word), meaning] as const)))
