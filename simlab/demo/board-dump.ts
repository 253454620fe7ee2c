// The settings page of the invented board as text, and how the lab reads such a page. "Auto" stands with what the board made of it.
import type { DumpLayout, SettingKind, Tune } from '@guardband/model'
import { layoutOf, mapDump } from '@guardband/model/dump/map-names'
import { readDump } from '@guardband/model/dump/read-dump'
import { knownSettings, settingBook } from '@guardband/model/settings/setting-book'
import { namedStream } from '../generator.ts'

/** As the board shows itself at 95 W. Equal seeds give equal text. */
export function boardDump(seed: number): string {
  const stream = namedStream(seed, 'settings page of the board')
  const volts = (middle: number): string => (middle + VOLTS_SPREAD * stream.normal()).toFixed(3)
  const cores = Array.from({ length: CORES }, (_, core) => line(`Core ${core} ratio limit`, `Auto [${RATIO + stream.pick(2)}]`))
  return [
    '# Simulated: no such board is made.',
    '[Board]',
    line('Name', 'Cairn M2'),
    line('Firmware', '0.4.17'),
    '',
    '[Processor]',
    line('Package power limit', '95 W'),
    line('Core voltage', `Auto [${volts(1.18)} V]`),
    line('Core voltage offset', '0 mV'),
    ...cores,
    '',
    '[Memory]',
    line('Memory data rate', '6200 MT/s'),
    line('Memory voltage', `Auto [${volts(1.25)} V]`),
    line('Memory controller voltage', `Auto [${volts(1.09)} V]`),
    '',
    '[Fans]',
    line('Fan policy', 'fixed 900 rpm'),
    '',
  ].join('\n')
}

/** The layout as a person settled it: the cores' lines are core ratios, and what the board says of itself is left out. */
export function readBoard(seed: number, known: { readonly kinds: readonly SettingKind[]; readonly tunes: readonly Tune[] }): { readonly fingerprint: string; readonly of: DumpLayout } {
  const read = readDump(boardDump(seed))
  const mapped = mapDump({ read, book: settingBook(knownSettings(known)), layouts: [] })
  const names = mapped.names.map(({ name }) => {
    if (name.name.startsWith('Board / ')) return { name: name.name }
    return name.name === 'Processor / ratio limit' ? { name: name.name, key: 'core ratio' } : name
  })
  return { fingerprint: mapped.fingerprint, of: layoutOf(read, mapped, names) }
}

function line(name: string, value: string): string {
  return `${name} ${'.'.repeat(WIDTH - name.length)} ${value}`
}

const WIDTH = 34
const CORES = 14
const RATIO = 54
/** Volts from one reading to the next. */
const VOLTS_SPREAD = 0.004
