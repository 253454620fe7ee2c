// A settings dump in any plain layout becomes settings: every line accounted for, names mapped once, odd values questioned, hostile text read in linear time.
import { describe, expect, test } from 'vitest'
import { dumpSettings, type DumpSettings } from '../dump/dump-settings.ts'
import { readDumpValue } from '../dump/dump-value.ts'
import { placeEntry } from '../dump/entry-place.ts'
import { layoutOf, mapDump } from '../dump/map-names.ts'
import { readDump, type ReadDump } from '../dump/read-dump.ts'
import { SpokenError } from '../errors.ts'
import type { Layout } from '../records/layout.ts'
import type { Tune } from '../records/tune.ts'
import { knownSettings, settingBook } from '../settings/setting-book.ts'

const id = '0192c2a0-0000-7000-8000-000000000001'
const nothing = settingBook([])

function settingsIn(read: ReadDump, book = nothing): DumpSettings {
  const { entries, names, decimal } = mapDump({ read, book, layouts: [] })
  return dumpSettings({ entries, names: names.map(({ name }) => name), decimal, book, known: 'read back' })
}

const shown = (text: string) => readDump(text).entries.map(({ path, name, value }) => [...path, name, value].join(' | '))

describe('layouts', () => {
  test.each<[string, string, ReadDump['separator'], readonly string[]]>([
    ['colons under bracket sections', '[Core 0]\nRatio: 54\nVoltage: 1.250 V\n\n[Memory]\nData rate: 6200 MT/s\n', ':', ['Core 0 | Ratio | 54', 'Core 0 | Voltage | 1.250 V', 'Memory | Data rate | 6200 MT/s']],
    ['equals signs', 'core ratio=54\ncore voltage = Auto [1.25 V]\n', '=', ['core ratio | 54', 'core voltage | Auto [1.25 V]']],
    ['tabs', 'name\tvalue\ncore ratio\t54\n', 'tab', ['name | value', 'core ratio | 54']],
    ['dotted leaders', 'Core ratio ........ 54\nCore voltage . . . . . : 1.25 V\n', 'leaders', ['Core ratio | 54', 'Core voltage | 1.25 V']],
    ['dotted leaders with little room left', 'Core ratio .... 54\nA longer name .. 55\nAn even longer . 56 V', 'leaders', ['Core ratio | 54', 'A longer name | 55', 'An even longer | 56 V']],
    ['aligned columns', 'Core ratio          54\nCore voltage offset -25 mV\nFan policy          quiet\nBus clock           100.0 MHz', 'columns', ['Core ratio | 54', 'Core voltage offset | -25 mV', 'Fan policy | quiet', 'Bus clock | 100.0 MHz']],
    ['semicolons', 'core ratio;54\n"memory; main";6200;MT/s', ';', ['core ratio | 54', 'memory; main | 6200 MT/s']],
    ['commas with a unit column', 'core voltage,1.25,V\nfan policy,quiet\n', ',', ['core voltage | 1.25 V', 'fan policy | quiet']],
    ['JSON', '{"memory": {"channel A": {"first word": 36}, "rate": "6200 MT/s"}, "fans": [{"name": "front", "value": 900, "unit": "rpm"}]}', 'json', ['memory | channel A | first word | 36', 'memory | rate | 6200 MT/s', 'fans | front | 900 rpm']],
    ['JSON with a comma too many', '{\n  "memory": {\n    "rate": "6200 MT/s",\n    "first word": 36,\n  },\n  "fan": "quiet"\n}', ':', ['memory | rate | 6200 MT/s', 'memory | first word | 36', 'fan | quiet']],
    ['leaders, then equals signs under a plain heading', 'Core ratio ........ 54\nCore voltage ...... 1.35 V\nMemory timings\nfirst word = 36\n', 'leaders', ['Core ratio | 54', 'Core voltage | 1.35 V', 'Memory timings | first word | 36']],
    ['headings by indentation', 'Processor\n  Ratio: 54\n  Limits:\n    Power: 95 W\n  Bus: 100 MHz\nFan: quiet\n', ':', ['Processor | Ratio | 54', 'Processor | Limits | Power | 95 W', 'Processor | Bus | 100 MHz', 'Fan | quiet']],
    ['flat headings', 'Processor\nRatio: 54\nMemory\nRate: 6200 MT/s', ':', ['Processor | Ratio | 54', 'Memory | Rate | 6200 MT/s']],
    ['ruled headings', '=== Processor ===\nRatio: 54\n--- Memory ---\nRate: 6200 MT/s', ':', ['Processor | Ratio | 54', 'Memory | Rate | 6200 MT/s']],
  ])('%s', (_what, text, separator, entries) => {
    expect(readDump(text).separator).toBe(separator)
    expect(shown(text)).toEqual(entries)
  })

  test('every line is an entry, a heading, a remark, blank or unread, and what is unread is named by its line', () => {
    const read = readDump('# made by hand\n[Core 0]\nRatio: 54\n\nThis line is a sentence and says nothing of a setting at all, no.\nVoltage: 1.25 V\n')
    expect(read.lines).toEqual({ all: 7, entries: 2, headings: 1, remarks: 1, blank: 2, unread: 1 })
    expect(read.unread).toEqual([{ line: 5, sentence: 'line 5 has no name and value: "This line is a sentence and says nothing of a setting at all ..."' }])
  })

  test('a mark at the beginning of the file, and lines that end in the manner of other systems, are no part of names', () => {
    expect(shown('\ufeffcore ratio: 54\r\nbus: 100 MHz\r\n')).toEqual(['core ratio | 54', 'bus | 100 MHz'])
  })
})
const scalar = (value: number, unit: string) => ({ shape: 'scalar', value, unit })

describe('values', () => {
  test.each<[string, unknown]>([
    ['1.250 V', { asked: scalar(1.25, 'V'), inForce: scalar(1.25, 'V') }],
    ['1.250V', { asked: scalar(1.25, 'V'), inForce: scalar(1.25, 'V') }],
    ['Auto', { asked: { shape: 'auto' }, inForce: null }],
    ['[Auto]', { asked: { shape: 'auto' }, inForce: null }],
    ['Auto [1.25 V]', { asked: { shape: 'auto' }, inForce: scalar(1.25, 'V') }],
    ['Auto (36)', { asked: { shape: 'auto' }, inForce: scalar(36, '') }],
    ['[Auto] 36', { asked: { shape: 'auto' }, inForce: scalar(36, '') }],
    ['36 (Auto)', { asked: { shape: 'auto' }, inForce: scalar(36, '') }],
    ['1.250 V [1.248 V]', { asked: scalar(1.25, 'V'), inForce: scalar(1.248, 'V') }],
    ['0x24', { asked: scalar(36, ''), inForce: scalar(36, '') }],
    ['Enabled', { asked: { shape: 'mode', mode: 'on' }, inForce: { shape: 'mode', mode: 'on' } }],
    ['[Disabled]', { asked: { shape: 'mode', mode: 'off' }, inForce: { shape: 'mode', mode: 'off' } }],
    ['36-38-38-76', { asked: { shape: 'mode', mode: '36-38-38-76' }, inForce: { shape: 'mode', mode: '36-38-38-76' } }],
    ['Quiet (front fans only)', { asked: { shape: 'mode', mode: 'Quiet (front fans only)' }, inForce: { shape: 'mode', mode: 'Quiet (front fans only)' } }],
  ])('%s', (text, expected) => expect(readDumpValue(text, { decimal: '.' })).toEqual(expected))

  test('a decimal comma is read as one where no value has a point', () => {
    expect(settingsIn(readDump('core voltage: 1,250 V\nbus: 100,0 MHz')).asked.map(({ asked }) => asked)).toEqual([{ shape: 'scalar', value: 1.25, unit: 'V' }, { shape: 'scalar', value: 100, unit: 'MHz' }])
    expect(settingsIn(readDump('limit: 12,500 mW\nbus: 100.0 MHz')).asked[0]?.asked).toEqual({ shape: 'scalar', value: 12500, unit: 'mW' })
  })
})

test.each([
  [[], 'Core 3 voltage', 'voltage', { level: 'core', index: '3' }],
  [['Memory', 'Channel A'], 'tCL', 'tCL', { level: 'channel', index: 'A' }],
  [[], 'tCL (CH B)', 'tCL', { level: 'channel', index: 'B' }],
  [['Core Group 1'], 'Ratio', 'Ratio', { level: 'core group', index: '1' }],
  [[], 'Module_2 voltage', 'voltage', { level: 'module', index: '2' }],
  [[], 'Core voltage', 'Core voltage', null],
  [['Processor'], 'Core ratio', 'Core ratio', null],
])('%j %s is "%s" of %j', (path, name, plain, scope) => expect(placeEntry({ path, name })).toMatchObject({ name: plain, scope }))

describe('names', () => {
  const house: Tune = {
    kind: 'tune', id, name: 'House',
    settings: [
      { key: 'core voltage', scope: { level: 'package' }, asked: { shape: 'scalar', value: 1.25, unit: 'V' } },
      { key: 'memory data rate', scope: { level: 'machine' }, asked: { shape: 'scalar', value: 6200, unit: 'MT/s' } },
      { key: 'package power limit', scope: { level: 'package' }, asked: { shape: 'scalar', value: 95, unit: 'W' } },
      { key: 'memory voltage', scope: { level: 'machine' }, asked: { shape: 'scalar', value: 1.35, unit: 'V' } },
    ],
  }
  const book = settingBook(knownSettings({ kinds: [], tunes: [house] }))
  const text = '[Processor]\nVcore: 1.26 V\nPkg Power Limit: 95 W\n[Memory]\nDataRate: 6200\nVoltage: 1.35 V\nBoot logo: Enabled\n'

  test('near names in units that fit are guessed, the headings helping; others keep their own', () => {
    const { names } = mapDump({ read: readDump(text), book, layouts: [] })
    expect(names.map(({ name, by }) => [name.name, name.key, by])).toEqual([
      ['Processor / Vcore', 'core voltage', 'near name'],
      ['Processor / Pkg Power Limit', 'package power limit', 'near name'],
      ['Memory / DataRate', 'memory data rate', 'near name'],
      ['Memory / Voltage', 'memory voltage', 'near name'],
      ['Memory / Boot logo', 'boot logo', 'its own name'],
    ])
  })

  test('a value in another quantity is not that setting, however near its name', () => {
    const { names } = mapDump({ read: readDump('Core voltage limit: 95 W\nCore Voltages: 80 W'), book, layouts: [] })
    expect(names.map(({ name }) => name.key)).not.toContain('core voltage')
  })

  test('a near name whose figures lie far from these is not guessed', () => {
    const offsets = settingBook(knownSettings({ kinds: [], tunes: [{ ...house, settings: [{ key: 'core voltage offset', scope: { level: 'package' }, asked: { shape: 'scalar', value: -25, unit: 'mV' } }] }] }))
    expect(mapDump({ read: readDump('Vcore: 1.25 V\nRatio: 54'), book: offsets, layouts: [] }).names[0]?.name.key).toBe('vcore')
    expect(mapDump({ read: readDump('Vcore ofs: -30 mV\nRatio: 54'), book: offsets, layouts: [] }).names[0]?.name.key).toBe('core voltage offset')
  })

  test('a layout mapped once needs no question again, and only new names of a newer one do', () => {
    const read = readDump(text)
    const first = mapDump({ read, book, layouts: [] })
    const chosen = first.names.map(({ name }) => (name.name === 'Memory / Boot logo' ? { name: name.name } : name))
    const layout: Layout = { kind: 'layout', id, name: 'Cairn M2', fingerprint: first.fingerprint, of: layoutOf(read, first, chosen) }
    const again = mapDump({ read: readDump(text.replace('1.26', '1.30')), book: nothing, layouts: [layout] })
    expect(again.layout?.new).toBe(0)
    expect(again.names.map(({ by }) => by)).toEqual(Array(5).fill('remembered'))
    const newer = mapDump({ read: readDump(`${text}Refresh: 3.9 us\n`), book: nothing, layouts: [layout] })
    expect(newer.layout?.new).toBe(1)
    expect(newer.names.filter(({ by }) => by !== 'remembered').map(({ name }) => name.name)).toEqual(['Memory / Refresh'])
    const settings = dumpSettings({ entries: again.entries, names: again.names.map(({ name }) => name), decimal: again.decimal, book, known: 'read back' })
    expect(settings).toMatchObject({ leftOut: 1, refused: [] })
    expect(settings.asked.map(({ key }) => key)).toEqual(['core voltage', 'package power limit', 'memory data rate', 'memory voltage'])
    expect(settings.inForce[2]?.value).toEqual({ shape: 'scalar', value: 6200, unit: 'MT/s' })
  })

  test('the order of lines and the numbers of cores do not make another layout', () => {
    const one = mapDump({ read: readDump('Core 0 ratio: 54\nCore 1 ratio: 54\nBus: 100 MHz'), book, layouts: [] })
    const other = mapDump({ read: readDump('Bus: 100 MHz\nCore 7 ratio: 51'), book, layouts: [] })
    expect(one.fingerprint).toBe(other.fingerprint)
  })

  test('one setting twice is refused for the second, naming both lines', () => {
    expect(settingsIn(readDump('core voltage: 1.25 V\nCore  Voltage: 1.3 V')).refused).toEqual([
      { line: 2, sentence: 'line 2: "Core  Voltage" is core voltage once more; the one of line 1 counts. Give one of them another key, or leave it out.' },
    ])
  })

  test('a value ten times off the same name on other cores is questioned, and one off what other dumps had', () => {
    const cores = Array.from({ length: 8 }, (_, core) => `Core ${core} voltage: ${core === 5 ? '12.5' : `1.2${core}`} V`).join('\n')
    const found = settingsIn(readDump(cores)).doubts
    expect(found.map(({ line, doubt }) => [line, doubt.code, doubt.sentence])).toEqual([[6, 'outside', 'Did you mean 1.25 V? The other 7 places have 1.2 to 1.27 V.']])
    expect(settingsIn(readDump('core voltage: 12.6 V'), book).doubts.map(({ doubt }) => doubt.mends[0]?.text)).toEqual(['1.26 V'])
  })
})

describe('hostile text', () => {
  test.each([
    ['nothing', '  \n \t\n', 'dump-empty'],
    ['ten million characters', 'core voltage: 1.25 V\n'.repeat(500_000), 'dump-too-long'],
    ['no separator', 'lorem ipsum dolor sit amet consectetur adipiscing elit sed do\n'.repeat(1000), 'dump-no-settings'],
    ['bytes of a picture', `\u0089PNG\r\n\u001a\n${'\u0000\u0001'.repeat(500)}`, 'dump-binary'],
    ['more settings than a layout holds', Array.from({ length: 5001 }, (_, line) => `setting ${line}: ${line}`).join('\n'), 'dump-too-many'],
    ['a JSON file without a value', '{"a": {}}', 'dump-no-settings'],
  ])('%s is refused with a sentence', (_what, text, code) => {
    expect(() => readDump(text)).toThrow(expect.objectContaining({ code }))
  })

  test('one line of three million characters is unread and the rest is read', () => {
    const read = readDump(`core voltage: 1.25 V\n${'a'.repeat(3_000_000)}\nbus: 100 MHz`)
    expect(read.entries).toHaveLength(2)
    expect(read.unread).toEqual([{ line: 2, sentence: 'line 2 has 3000000 characters; lines of up to 2000 are read.' }])
  })

  test('JSON nested a hundred thousand deep ends in a sentence, not in a crash', () => {
    expect(() => readDump(`${'['.repeat(100_000)}1${']'.repeat(100_000)}`)).toThrow(expect.objectContaining({ code: 'dump-no-settings' }))
    expect(() => readDump('['.repeat(100_000))).toThrow(expect.objectContaining({ code: 'dump-no-settings' }))
  })

  test.each([
    ['dots', '.'.repeat(1999)],
    ['dots and blanks', ' .'.repeat(999)],
    ['brackets', '['.repeat(1999)],
    ['brackets after a name', `a: ${'('.repeat(1900)})`],
    ['digits and points', `a: ${'1.'.repeat(900)}`],
    ['commas', `a: ${'1,'.repeat(900)}`],
    ['blanks', `a${' '.repeat(1990)}:`],
    ['quotes', `"a": ${'"'.repeat(1900)}`],
    ['colons', ':'.repeat(1999)],
    ['pairs', `a: ${'1:2,'.repeat(400)}`],
    ['core words', `${'core '.repeat(380)}: 1`],
  ])('400 lines of %s end in a result or a sentence (how fast: the dump bench)', (_what, line) => {
    const lines = Array.from({ length: 400 }, () => line).join('\n')
    let end = ''
    try {
      end = settingsIn(readDump(`bus: 100 MHz\n${lines}`)).asked.length > 0 ? 'settings' : ''
    } catch (error) {
      end = error instanceof SpokenError ? 'sentence' : String(error)
    }
    expect(['settings', 'sentence']).toContain(end)
  })
})
