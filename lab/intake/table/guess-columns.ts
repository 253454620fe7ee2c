// What each column of a table is, guessed from its header, its cells, and the names that the lab knows. What can't be told is asked.
import { findUnit, nearest, type IntakeChoices, type OutcomeWord, type RunsColumn } from '@guardband/model'
import { isTotalsWord, looksNumeric } from './cells.ts'
import { COLUMNS, type Role } from './columns.ts'
import type { FoundHeader } from './find-table.ts'
import { foldWords, knownUnit, measureWord, recogniseHeader, repeatNumber, splitHeader, splitMeasureWord } from './headers.ts'
import { looksLikeClock, looksLikeMoment } from './moments.ts'
import { meaningOf } from './outcome-words.ts'
import type { Row } from './split-rows.ts'

export interface KnownNames {
  readonly workloads: readonly { readonly name: string; readonly measures: readonly string[] }[]
  readonly tunes: readonly string[]
  readonly samples: readonly string[]
}

export interface GuessedColumns {
  readonly columns: readonly RunsColumn[]
  /** Columns of figures of which nothing says whether they are workloads, tunes, samples, repeats or measures. */
  readonly open: readonly string[]
}

export function guessColumns(table: FoundHeader & { readonly rows: readonly Row[] }, known: KnownNames, wide: IntakeChoices['wide']): GuessedColumns {
  const headers = headerCells(table.header)
  const looks = headers.map((_, index) => lookAt(table.rows, index))
  const roles = headers.map((header, index) => roleOf(header, looks[index], unitAt(table, index)))
  const has = (role: Role): boolean => roles.includes(role)
  // A column in which every run failed holds words only: it is one of results where its neighbours are, where it has a unit, or where
  // somebody has said what such columns stand for.
  const figures = headers.some((_, index) => roles[index] === undefined && isFigures(looks[index]))
  const holdsResults = (index: number): boolean => {
    const { values } = looks[index]
    if (values !== 'outcomes') return isFigures(looks[index])
    return splitHeader(headers[index]).unit !== undefined || unitAt(table, index) !== undefined || ((figures || wide !== undefined) && !has('value'))
  }
  const taken = new Set<Role>()
  const open: string[] = []
  const columns = headers.map((header, index): RunsColumn => {
    const role = roles[index]
    const words = splitHeader(header)
    const unit = words.unit ?? unitAt(table, index) ?? unitOfCells(table.rows, index)
    const values = (more: Partial<RunsColumn>): RunsColumn => ({ header, as: 'measure', ...more, ...(unit === undefined ? {} : { unit }) })
    if (role === 'measure') return values({ measure: measureWord(words.name) ?? words.name })
    if (role !== undefined && role !== 'left out') {
      // The first of two that mean the same counts; the other stays to be chosen.
      if (taken.has(role)) return { header, as: 'left out' }
      taken.add(role)
      return { header, as: role, ...(unit === undefined || (role !== 'value' && role !== 'seconds') ? {} : { unit }) }
    }
    if (role === 'left out' || header === '' || !holdsResults(index)) return { header, as: 'left out' }
    const repeat = repeatNumber(header)
    if (repeat !== undefined) return values({ repeat: repeat.repeat, ...(repeat.name === '' ? {} : repeatOf(repeat.name, has('workload'))) })
    const named = has('workload') ? undefined : workloadColumn(words.name, known)
    if (named !== undefined) return values(named)
    if (!has('tune') && known.tunes.some((tune) => foldWords(tune) === foldWords(header))) return values({ tune: header })
    if (!has('sample') && known.samples.some((sample) => foldWords(sample) === foldWords(header))) return values({ sample: header })
    if (has('value')) return { header, as: 'left out' }
    if (!has('workload')) return values(splitWorkload(words.name))
    if (wide === undefined && has('measure')) return values({ measure: words.name })
    const kind = wide ?? wideKind(header, headers)
    if (kind === undefined) {
      open.push(header)
      return { header, as: 'left out' }
    }
    return values(asWide(kind, header, words.name, open.length + index))
  })
  return { columns, open }
}

/** Without empty ones at its end. */
export function headerCells(header: Row): readonly string[] {
  const cells = header.cells.map((cell) => cell.trim().replaceAll(/\s+/g, ' '))
  let end = cells.length
  while (end > 0 && cells[end - 1] === '') end -= 1
  return cells.slice(0, end)
}

interface Look {
  readonly values: 'figures' | 'serials' | 'moments' | 'clocks' | 'outcomes' | 'words' | 'nothing'
}

function lookAt(rows: readonly Row[], index: number): Look {
  const cells: string[] = []
  for (const row of rows) {
    const cell = row.cells[index]?.trim() ?? ''
    if (cell !== '') cells.push(cell)
    if (cells.length === CELLS_LOOKED_AT) break
  }
  if (cells.length === 0) return { values: 'nothing' }
  const share = (test: (cell: string) => boolean): number => cells.filter(test).length / cells.length
  if (share(looksLikeClock) > MOSTLY) return { values: 'clocks' }
  // Five digits may count days or be a figure: what the header says decides.
  if (share((cell) => SERIAL.test(cell)) > MOSTLY) return { values: 'serials' }
  if (share(looksLikeMoment) > MOSTLY) return { values: 'moments' }
  const figures = share(looksNumeric)
  const outcomes = share((cell) => !looksNumeric(cell) && meaningOf(cell, NONE) !== undefined)
  // Failures stand as words between the figures.
  if (figures > HALF || (figures > 0 && figures + outcomes > MOSTLY)) return { values: 'figures' }
  return { values: outcomes > HALF ? 'outcomes' : 'words' }
}

const SERIAL = /^\d{5}(?:[.,]\d+)?$/
const CELLS_LOOKED_AT = 100
const MOSTLY = 0.8
const HALF = 0.5
const NONE = new Map<string, OutcomeWord['outcome']>()

function isFigures({ values }: Look): boolean {
  return values === 'figures' || values === 'serials'
}

function roleOf(header: string, { values }: Look, unitBelow: string | undefined): Role | undefined {
  if (isTotalsWord(header)) return 'left out'
  const role = recogniseHeader(header) ?? nearRole(header)
  if (role === 'time' && unitBelow !== undefined && findUnit(unitBelow)?.quantity === 'time') return 'measure'
  if (role === 'time' && values === 'clocks') return 'clock'
  if (role === 'time' && values === 'figures') return 'measure'
  if (role === 'clock' && (values === 'figures' || values === 'serials')) return 'measure'
  if (role === 'value' && values === 'outcomes') return 'outcome'
  if (role === 'repeat' && values !== 'figures' && values !== 'serials') return undefined
  return role
}

/** A slip of the fingers in the name of a plain column: "smple". */
function nearRole(header: string): Role | undefined {
  const text = header.toLowerCase()
  if (!/^[a-z]{4,}$/.test(text)) return undefined
  const near = nearest(text, COLUMNS)
  if (near === undefined || Math.abs(near.length - text.length) > 1) return undefined
  return near === 'measure' ? 'measure name' : near
}

function unitAt({ units }: FoundHeader, index: number): string | undefined {
  const cell = units?.cells[index]?.trim() ?? ''
  return cell === '' ? undefined : knownUnit(cell.replaceAll(/^[([]|[)\]]$/g, ''))
}

/** "41,5 s": a failure that stands above it has no unit of its own. */
function unitOfCells(rows: readonly Row[], index: number): string | undefined {
  for (const row of rows.slice(0, CELLS_LOOKED_AT)) {
    const found = /^[+\u2212-]?[.,]?\d[^a-zµμ°%]*([a-zµμ°%][^\d]*)$/i.exec(row.cells[index]?.trim() ?? '')
    const unit = found === null ? undefined : knownUnit(found[1])
    if (unit !== undefined) return unit
  }
  return undefined
}

/** A header that names a workload of the lab, alone or with one of its measures behind it. */
function workloadColumn(name: string, known: KnownNames): Partial<RunsColumn> | undefined {
  const folded = foldWords(name)
  let best: { readonly length: number; readonly column: Partial<RunsColumn> } | undefined
  for (const workload of known.workloads) {
    const start = foldWords(workload.name)
    if (folded !== start && !folded.startsWith(`${start} `) && !folded.startsWith(`${start}, `)) continue
    const rest = folded.slice(start.length).replace(/^[\s,]+/, '')
    const measure = rest === '' ? undefined : (workload.measures.find((candidate) => foldWords(candidate) === rest) ?? measureWord(rest))
    if (rest !== '' && measure === undefined) continue
    if (best === undefined || start.length > best.length) best = { length: start.length, column: { workload: workload.name, ...(measure === undefined ? {} : { measure }) } }
  }
  if (best !== undefined) return best.column
  const near = folded.length >= SHORTEST_NEAR ? nearest(folded, known.workloads.map((workload) => foldWords(workload.name))) : undefined
  const found = known.workloads.find((workload) => foldWords(workload.name) === near)
  return found === undefined ? undefined : { workload: found.name }
}

/** A slip in a shorter name may be another name. */
const SHORTEST_NEAR = 6

function splitWorkload(name: string): Partial<RunsColumn> {
  const split = splitMeasureWord(name)
  return split === undefined ? { workload: name } : { workload: split.rest, measure: split.measure }
}

function repeatOf(name: string, hasWorkload: boolean): Partial<RunsColumn> {
  const measure = measureWord(name)
  if (measure !== undefined) return { measure }
  return hasWorkload ? { measure: name } : splitWorkload(name)
}

/** "65 W", "3200 MHz" are settings; 1, 2, 3 count repeats. */
function wideKind(header: string, headers: readonly string[]): IntakeChoices['wide'] {
  if (/^\d+([.,]\d+)?\s?(W|V|mV|MHz|GHz)$/.test(header)) return 'tunes'
  const counted = headers.filter((each) => /^\d{1,3}$/.test(each)).map(Number)
  if (/^\d{1,3}$/.test(header) && counted.length > 1 && counted.every((number, index) => number === index + counted[0])) return 'repeats'
  return undefined
}

function asWide(kind: NonNullable<IntakeChoices['wide']>, header: string, name: string, place: number): Partial<RunsColumn> {
  if (kind === 'workloads') return splitWorkload(name)
  if (kind === 'tunes') return { tune: header }
  if (kind === 'samples') return { sample: header }
  if (kind === 'measures') return { measure: name }
  return { repeat: /^\d{1,4}$/.test(header) && Number(header) > 0 ? Number(header) : place + 1 }
}
