// What stands on a tune's sheet of lines: the settings, what can't be read, what is odd, and which keys are new. Pure, so that it is tried without a page.
import { settingKey } from '@guardband/model/ceilings'
import type { Setting } from '@guardband/model/records/tune'
import type { SettingBook } from '@guardband/model/settings/setting-book'
import { readSettingLine, settingLine, type LineReading } from '@guardband/model/settings/setting-line'
import { doubtsOf, type Doubt } from '@guardband/model/settings/typing-guard'
import { settingPlace } from '@guardband/model/tune-settings'

export interface SheetLine {
  /** From 0. */
  readonly index: number
  readonly text: string
  readonly reading: LineReading
  /** Why it can't be kept as it stands; null where it can. */
  readonly problem: string | null
  readonly doubts: readonly SheetDoubt[]
}

export interface SheetDoubt {
  /** Stays while the line and the doubt do, so that an answer to it does. */
  readonly id: string
  readonly doubt: Doubt
  /** A person says that it is meant so. */
  readonly kept: boolean
}

export interface Sheet {
  readonly lines: readonly SheetLine[]
  readonly settings: readonly Setting[]
  readonly unclear: readonly SheetLine[]
  /** Doubts that nobody answered yet, with their line. */
  readonly open: readonly { readonly line: SheetLine; readonly doubt: SheetDoubt }[]
  /** Keys that the lab has not seen, as first typed here. */
  readonly newKeys: readonly { readonly key: string; readonly setting: Setting; readonly near: readonly string[] }[]
  /** What a person confirmed, as sentences for the change log. */
  readonly confirmed: readonly string[]
}

/** Reads lines that it has seen before from what it remembers: a sheet of two hundred is read anew at every key. */
export function createSheetReader(book: SettingBook): (text: string, kept: ReadonlySet<string>) => Sheet {
  let before = new Map<string, LineReading>()
  return (text, kept) => {
    const readings = new Map<string, LineReading>()
    const rawLines = text.split('\n').map((line, index) => {
      const reading = readings.get(line) ?? before.get(line) ?? readSettingLine(line, book)
      readings.set(line, reading)
      return { index, text: line, reading }
    })
    before = readings
    return sheetOf(rawLines, book, kept)
  }
}

function sheetOf(rawLines: readonly { readonly index: number; readonly text: string; readonly reading: LineReading }[], book: SettingBook, kept: ReadonlySet<string>): Sheet {
  const settings = rawLines.flatMap(({ reading }) => (reading.status === 'read' ? [reading.setting] : []))
  const byKey = Map.groupBy(settings, ({ key }) => settingKey(key))
  const first = new Map<string, number>()
  const lines = rawLines.map(({ index, text, reading }): SheetLine => {
    if (reading.status !== 'read') return { index, text, reading, problem: reading.status === 'unclear' ? reading.sentence : null, doubts: [] }
    const { setting, known } = reading
    const place = settingPlace(setting)
    const earlier = first.get(place)
    if (earlier === undefined) first.set(place, index)
    const doubts = doubtsOf({ setting, known, beside: byKey.get(settingKey(setting.key)) ?? [] }).map((doubt): SheetDoubt => {
      const id = `${text.trim()}|${doubt.code}`
      return { id, doubt, kept: kept.has(id) }
    })
    return { index, text, reading, problem: earlier === undefined ? null : `${setting.key} stands in line ${earlier + 1} already.`, doubts }
  })
  const newKeys = new Map<string, Sheet['newKeys'][number]>()
  for (const { reading } of lines) {
    if (reading.status !== 'read' || reading.known !== null) continue
    const place = settingKey(reading.setting.key)
    if (!newKeys.has(place)) newKeys.set(place, { key: reading.setting.key, setting: reading.setting, near: nearKeys(reading.setting.key, book) })
  }
  return {
    lines,
    settings: lines.flatMap(({ reading, problem }) => (reading.status === 'read' && problem === null ? [reading.setting] : [])),
    unclear: lines.filter(({ problem }) => problem !== null),
    open: lines.flatMap((line) => line.doubts.filter((doubt) => !doubt.kept).map((doubt) => ({ line, doubt }))),
    newKeys: [...newKeys.values()],
    confirmed: lines.flatMap((line) => line.doubts.filter((doubt) => doubt.kept).map(({ doubt }) => `Meant as typed: ${line.text.trim()} (${doubt.sentence})`)),
  }
}

/** The key part of a line that is still being typed; null once a value stands there or the key is a known one. */
export function keyBeingTyped(line: string, book: SettingBook): string | null {
  if (line.includes('=') || line.includes(':')) return null
  const text = line.trim()
  if (text.length < 2 || book.find(text) !== undefined) return null
  return /\s[+-]?[\d.]/.test(text) ? null : text
}

/** As lines to type on: grouped by key, in the order of the record. */
export function sheetTextOf(settings: readonly Setting[], book: SettingBook): string {
  return settings.map((setting) => settingLine(setting, book.find(setting.key))).join('\n')
}

function nearKeys(key: string, book: SettingBook): readonly string[] {
  return book.suggest(key.split(' ').slice(0, 2).join(' '), NEAR).map((known) => known.key)
}

const NEAR = 2
