// Where in a text the table is: its separator, how many cells its lines have, its header, and a row of units below it.
import type { Separator } from '@guardband/model'
import { isTotalsWord, looksNumeric } from './cells.ts'
import { knownUnit, recogniseHeader } from './headers.ts'
import type { Row } from './split-rows.ts'

export const SEPARATORS: readonly Separator[] = [',', ';', '\t', '|']

export interface FoundSeparator {
  readonly separator: Separator
  readonly usualCells: number
}

/** The one under which a line names most columns that we know; with none known, the one that most lines have equally often. */
export function findSeparator(text: string, said?: Separator): FoundSeparator {
  const lines = firstLines(text, LINES_LOOKED_AT)
  const found = (said === undefined ? SEPARATORS : [said]).map((separator) => {
    const split = lines.map((line) => line.replaceAll(QUOTED, '').split(separator))
    const named = Math.max(0, ...lines.slice(0, HEADER_WITHIN).map((line) => line.split(separator).filter((cell) => recogniseHeader(bare(cell)) !== undefined).length))
    const usual = mode(split.map((cells) => cells.length).filter((count) => count > 1)) ?? { value: 1, count: 0 }
    return { separator, usualCells: usual.value, score: [named > 1 ? named : 0, usual.count * Math.min(usual.value, MOST_THAT_COUNT)] as const }
  })
  const best = found.toSorted((a, b) => b.score[0] - a.score[0] || b.score[1] - a.score[1])[0]
  return { separator: best.separator, usualCells: best.usualCells }
}

const LINES_LOOKED_AT = 200
const HEADER_WITHIN = 40
/** Beyond this a line of prose with many commas would outweigh a table. */
const MOST_THAT_COUNT = 12
const QUOTED = /"(?:[^"]|"")*"/g

function bare(cell: string): string {
  return cell.trim().replaceAll(/^"|"$/g, '')
}

function firstLines(text: string, count: number): readonly string[] {
  const lines: string[] = []
  for (let at = 0; at < text.length && lines.length < count; ) {
    const feed = text.indexOf('\n', at)
    const end = feed === -1 ? text.length : feed
    const line = text.slice(at, end)
    if (line.trim() !== '') lines.push(line)
    at = end + 1
  }
  return lines
}

function mode(values: readonly number[]): { readonly value: number; readonly count: number } | undefined {
  const counts = new Map<number, number>()
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1)
  return [...counts].map(([value, count]) => ({ value, count })).toSorted((a, b) => b.count - a.count || b.value - a.value)[0]
}

export interface FoundHeader {
  readonly header: Row
  /** Units of the columns, where a row below the header gives them. */
  readonly units: Row | null
}

/** `headerLine` is what a person said; undefined where no line can be the header. */
export function findHeader(rows: readonly Row[], usualCells: number, headerLine?: number): FoundHeader | undefined {
  const filled = rows.filter((row) => !isBlank(row))
  const index = headerLine === undefined ? likelyHeader(filled.slice(0, HEADER_WITHIN), usualCells) : filled.findIndex((row) => row.line === headerLine)
  if (index === -1) return undefined
  const next = filled.at(index + 1)
  return { header: filled[index], units: next !== undefined && isUnitsRow(next) ? next : null }
}

export function isBlank({ cells }: Row): boolean {
  return cells.every((cell) => cell.trim() === '')
}

function likelyHeader(rows: readonly Row[], usualCells: number): number {
  let best = { index: -1, score: 0 }
  rows.forEach(({ cells }, index) => {
    const texts = cells.map((cell) => cell.trim()).filter((cell) => cell !== '')
    if (texts.length < 2 || texts.length * 2 < usualCells || cells[0].startsWith('#')) return
    const named = texts.filter((cell) => recogniseHeader(cell) !== undefined).length
    const numbers = texts.filter((cell) => looksNumeric(cell)).length
    const score = named * NAMED_WEIGHS - numbers + (numbers === 0 && index + 1 < rows.length ? 1 : 0)
    if (score > best.score) best = { index, score }
  })
  return best.index
}

/** Above a line of data that happens to hold one word that a header might. */
const NAMED_WEIGHS = 3

function isUnitsRow({ cells }: Row): boolean {
  const texts = cells.map((cell) => cell.trim()).filter((cell) => cell !== '')
  const units = texts.filter((cell) => knownUnit(cell.replaceAll(/^[([]|[)\]]$/g, '')) !== undefined)
  return units.length > 0 && texts.every((cell) => units.includes(cell) || cell === '-' || cell === '–')
}

/** Why a row below the header is none of the runs, as far as its look tells. */
export function reasonToLeaveOut({ cells }: Row, header: Row): string | undefined {
  let filled = 0
  for (const cell of cells) {
    const text = cell.trim()
    if (text === '') continue
    if (filled === 0 && text.startsWith('#')) return 'it begins with #'
    if (text.length <= LONGEST_TOTALS && isTotalsWord(text) && cells.some((other) => looksNumeric(other.trim()))) return `"${text}" says that it sums up other lines`
    filled += 1
    if (filled === TOTALS_WITHIN) break
  }
  if (cells[0] === header.cells[0] && cells.length === header.cells.length && cells.every((cell, index) => cell.trim() === header.cells[index].trim())) return 'the header stands there again'
  return undefined
}

/** Such a word stands where the names are, at the beginning. */
const TOTALS_WITHIN = 4
const LONGEST_TOTALS = 20
