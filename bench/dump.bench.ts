// A settings dump of 800 lines, in three layouts: milliseconds from its text to settings mapped, guarded and compared with a tune; and that no text of the same length is slower by more than its length.
import { dumpSettings } from '@guardband/model/dump/dump-settings'
import { mapDump } from '@guardband/model/dump/map-names'
import { MOST_CHARACTERS, readDump } from '@guardband/model/dump/read-dump'
import { SpokenError } from '@guardband/model'
import type { Setting, Tune } from '@guardband/model'
import { appliedOf } from '@guardband/model/settings/applied'
import { knownSettings, settingBook } from '@guardband/model/settings/setting-book'
import type { Bench } from './bench.ts'
import { median } from './median.ts'

const LINES = 800
const BAR_MS = 200
const ROUNDS = 15

export const bench: Bench = {
  name: 'dump',
  what: `settings dump of ${LINES} lines in three layouts: milliseconds to read, map, guard and compare all three layouts' slowest, median of ${ROUNDS}`,
  run: (_args, print) => {
    const settings = someSettings()
    const tune: Tune = { kind: 'tune', id: '0192c2a0-0000-7000-8000-000000000001', name: 'asked', settings: [...settings] }
    const book = settingBook(knownSettings({ kinds: [], tunes: [tune] }))
    const detail: Record<string, number> = {}
    let value = 0
    let sound = true
    for (const [layout, text] of Object.entries(layoutsOf(settings))) {
      const times: number[] = []
      let otherwise = -1
      for (let round = 0; round < ROUNDS; round++) {
        const from = performance.now()
        const read = readDump(text)
        const mapped = mapDump({ read, book, layouts: [] })
        const dumped = dumpSettings({ entries: mapped.entries, names: mapped.names.map(({ name }) => name), decimal: mapped.decimal, book, known: 'read back' })
        otherwise = appliedOf({ asked: tune.settings, inForce: dumped.inForce }).otherwise.length
        times.push(performance.now() - from)
        sound &&= read.entries.length === LINES && read.lines.unread === 0
      }
      // The first round, which a person waits for, counts as much as the median.
      const slowest = Math.max(median(times), times[0])
      detail[layout] = slowest
      value = Math.max(value, slowest)
      // The dump differs from the tune in every hundredth setting; a bench that compared nothing would be quick.
      sound &&= otherwise === LINES / 100
      print(`${layout}: first ${times[0].toFixed(0)} ms, median ${median(times).toFixed(0)} ms, ${otherwise} not as asked`)
    }
    const hostile = slowestHostile(print)
    detail['slowest of the hostile texts, for a text as long'] = hostile
    print(sound ? 'every line of every layout was read, and every difference found' : 'NOT SOUND: lines unread or differences missed')
    return Promise.resolve({ value, reference: BAR_MS, bar: `at most ${BAR_MS} ms for each layout, and every hostile text of ${MOST_CHARACTERS / 1e6} million characters within ${HOSTILE_BAR_MS} ms`, pass: sound && value <= BAR_MS && hostile <= HOSTILE_BAR_MS, detail })
  },
}

/** A person who pastes the wrong thing waits for its sentence. */
const HOSTILE_BAR_MS = 3000

function someSettings(): readonly Setting[] {
  return Array.from({ length: LINES }, (_, index): Setting => {
    const scope: Setting['scope'] = index % 4 === 0 ? { level: 'core', index: String((index / 4) % 16) } : index % 4 === 1 ? { level: 'channel', index: 'AB'.charAt(index % 2) } : { level: 'machine' }
    const key = `${WORDS[index % WORDS.length]} ${WORDS[(index * 7 + 3) % WORDS.length]} ${index}`
    return { key, scope, asked: { shape: 'scalar', value: Number((1 + (index % 90) / 100).toFixed(2)), unit: UNITS[index % UNITS.length] ?? '' } }
  })
}

const WORDS = ['ratio', 'voltage', 'limit', 'offset', 'refresh', 'delay', 'write', 'read', 'termination', 'slope', 'current', 'phase', 'ring']
const UNITS = ['V', 'mV', 'W', 'cycles', 'ns', '']

/** Every hundredth value came out otherwise. */
function layoutsOf(settings: readonly Setting[]): Readonly<Record<string, string>> {
  const rows = settings.map(({ key, scope, asked }, index) => {
    const place = scope.index === undefined ? '' : scope.level === 'core' ? `Core ${scope.index} ` : `CH ${scope.index} `
    const value = asked.shape === 'scalar' ? asked.value + (index % 100 === 0 ? 0.05 : 0) : 0
    const unit = 'unit' in asked ? asked.unit : ''
    return { name: `${place}${key}`, value: value.toFixed(2), unit, auto: index % 10 === 5 }
  })
  return {
    'colons under headings': rows.map(({ name, value, unit }, index) => `${index % 40 === 0 ? '[Page]\n' : ''}${name}: ${value} ${unit}`.trimEnd()).join('\n'),
    'dotted leaders': rows.map(({ name, value, unit }) => `${name} ${'.'.repeat(Math.max(3, 60 - name.length))} ${value} ${unit}`.trimEnd()).join('\n'),
    'commas with a unit column': rows.map(({ name, value, unit }) => `"${name}",${value},${unit}`).join('\n'),
  }
}

function slowestHostile(print: (line: string) => void): number {
  let slowest = 0
  for (const [what, line] of HOSTILE) {
    const text = `bus: 100 MHz\n${Array.from({ length: Math.floor(MOST_CHARACTERS / (line.length + 1)) - 20 }, () => line).join('\n')}`
    const from = performance.now()
    let end = 'read'
    try {
      const read = readDump(text)
      const mapped = mapDump({ read, book: settingBook([]), layouts: [] })
      dumpSettings({ entries: mapped.entries, names: mapped.names.map(({ name }) => name), decimal: mapped.decimal, book: settingBook([]), known: 'read back' })
    } catch (error) {
      if (!(error instanceof SpokenError)) throw error
      end = error.code
    }
    const took = performance.now() - from
    slowest = Math.max(slowest, took)
    print(`hostile, ${what}: ${took.toFixed(0)} ms (${end})`)
  }
  return slowest
}

const HOSTILE: readonly (readonly [string, string])[] = [
  ['dots', '.'.repeat(1990)],
  ['dots and blanks', ' .'.repeat(990)],
  ['brackets', '['.repeat(1990)],
  ['brackets after a name', `a: ${'('.repeat(1900)}`],
  ['digits and points', `a: ${'1.'.repeat(900)}`],
  ['commas', `a: ${'1,'.repeat(900)}`],
  ['blanks', `a${' '.repeat(1980)}:`],
  ['quotes', `"a": ${'"'.repeat(1900)}`],
  ['pairs', `a: ${'1:2,'.repeat(400)}`],
  ['place words', `${'core '.repeat(380)}: 1`],
  ['one long line', 'x'.repeat(MOST_CHARACTERS / 2)],
]
