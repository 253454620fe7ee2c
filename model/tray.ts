// A tray of samples as it was scanned or pasted: text to rows, each line held against the others and against what the lab has.

export type TrayColumn = 'label' | 'serial' | 'batch' | 'left out'

export interface KnownSample {
  readonly label: string
  readonly serial?: string | undefined
  /** As a sentence names it: "Quillon 14, no. 3". */
  readonly name: string
  /** Of the same part: then its label is taken. */
  readonly samePart: boolean
}

export interface TrayRow {
  /** In the text, from 1. */
  readonly line: number
  readonly label: string
  readonly serial?: string
  readonly batch?: string
  /** Sentences that keep the tray from being entered. */
  readonly problems: readonly string[]
  /** Sentences that a person should look at; they keep nothing from being entered. */
  readonly questions: readonly string[]
}

export interface Tray {
  readonly rows: readonly TrayRow[]
  readonly columns: readonly TrayColumn[]
  /** Whether the first line named the columns. */
  readonly headed: boolean
  /** Lines that repeat the serial of an earlier line. */
  readonly repeats: readonly number[]
}

export interface TrayText {
  readonly text: string
  /** In the order in which they were entered. */
  readonly known: readonly KnownSample[]
  /** Overrides what the text looks like. */
  readonly columns?: readonly TrayColumn[]
  /** The label to number on from; without it, the one after the part's last. */
  readonly first?: string
}

export function readTray({ text, known, columns, first }: TrayText): Tray {
  const lines = text.split(/\r\n|\r|\n/).flatMap((line, index) => (plain(line) === '' ? [] : [{ line: index + 1, text: line }]))
  const separator = separatorOf(lines.map((line) => line.text))
  const cells = lines.map(({ line, text: whole }) => ({ line, cells: separator === null ? [plain(whole)] : dropLastEmpty(whole.split(separator).map(plain)) }))
  const head = headOf(cells[0]?.cells ?? [])
  const body = head === null ? cells : cells.slice(1)
  const order = head ?? columns ?? guess(body.map((row) => row.cells))
  const read = body.map((row) => ({ ...row, ...fields(row.cells, order) }))
  const labels = numberOn(read.map((row) => row.label), known, first)
  const seenSerials = new Map<string, number>()
  const seenLabels = new Map<string, number>()
  const repeats: number[] = []
  const odd = oddSerials(read.map((row) => row.serial ?? ''))
  const rows = read.map((row, index): TrayRow => {
    const label = labels[index] ?? ''
    const problems = [...shapeProblems(row.cells, order), ...serialProblems(row.serial, row.line), ...labelProblems(label, row.line)]
    return {
      line: row.line, label, problems, questions: odd[index] ?? [],
      ...(row.serial === undefined ? {} : { serial: row.serial }),
      ...(row.batch === undefined ? {} : { batch: row.batch }),
    }
  })
  return { rows, columns: order, headed: head !== null, repeats }

  function serialProblems(serial: string | undefined, line: number): readonly string[] {
    if (serial === undefined) return order.includes('serial') ? ['no serial stands here.'] : []
    if (serial.length > MOST_SERIAL) return [`a serial must have at most ${MOST_SERIAL} characters; got ${serial.length}.`]
    const earlier = seenSerials.get(fold(serial))
    if (earlier !== undefined) {
      repeats.push(line)
      return [`serial ${serial} stands in line ${earlier} already.`]
    }
    seenSerials.set(fold(serial), line)
    const held = known.find((sample) => sample.serial !== undefined && fold(sample.serial) === fold(serial))
    return held === undefined ? [] : [`serial ${serial} is in the lab already: ${held.name}.`]
  }

  function labelProblems(label: string, line: number): readonly string[] {
    if (label.length > MOST_SERIAL) return [`a label must have at most ${MOST_SERIAL} characters; got ${label.length}.`]
    const earlier = seenLabels.get(fold(label))
    if (earlier !== undefined) return [`label ${label} stands in line ${earlier} already.`]
    seenLabels.set(fold(label), line)
    return known.some((sample) => sample.samePart && fold(sample.label) === fold(label)) ? [`label ${label} is taken by another sample of this part.`] : []
  }
}

/** The text without the lines named, for scans that came twice. */
export function withoutLines(text: string, lines: readonly number[]): string {
  const gone = new Set(lines)
  return text.split(/\r\n|\r|\n/).filter((_line, index) => !gone.has(index + 1)).join('\n')
}

/** The label that follows the last numbered one of a part: "no. 7" after "no. 6", "Q14-08" after "Q14-07". */
export function nextLabel(labels: readonly string[]): string {
  const last = labels.flatMap((label) => numbered(label)).at(-1)
  if (last === undefined) return FIRST_LABEL
  const highest = Math.max(...labels.flatMap((label) => numbered(label)).filter((other) => fold(other.before) === fold(last.before) && fold(other.after) === fold(last.after)).map((other) => Number(other.digits)))
  return `${last.before}${String(highest + 1).padStart(last.digits.length, '0')}${last.after}`
}

const FIRST_LABEL = 'no. 1'
/** The schema of a sample allows as many, for labels too. */
const MOST_SERIAL = 200
/** Longer runs of digits are serials rather than counts, and would lose digits as numbers. */
const MOST_DIGITS = 9

function numbered(label: string): readonly { readonly before: string; readonly digits: string; readonly after: string }[] {
  const match = /^(.*?)(\d+)(\D*)$/s.exec(label)
  const [, before = '', digits = '', after = ''] = match ?? []
  return match === null || digits.length > MOST_DIGITS ? [] : [{ before, digits, after }]
}

/** Rows without a label get the next number; a label that a later line of the tray brings is passed over. */
function numberOn(given: readonly (string | undefined)[], known: readonly KnownSample[], first: string | undefined): readonly string[] {
  const own = known.filter((sample) => sample.samePart).map((sample) => sample.label)
  const taken = new Set(given.flatMap((label) => (label === undefined ? [] : [fold(label)])))
  const labels: string[] = []
  let series = own
  let begin = first
  for (const label of given) {
    let next = label
    while (next === undefined) {
      const candidate = begin ?? nextLabel(series)
      begin = undefined
      series = [...series.slice(-1), candidate]
      if (!taken.has(fold(candidate)) && !own.some((other) => fold(other) === fold(candidate))) next = candidate
    }
    labels.push(next)
  }
  return labels
}

/** Scanners send control characters around what they read; they are no part of it. */
function plain(text: string): string {
  return text.replace(/[\p{Cc}\u200b\ufeff]/gu, '').trim()
}

function fold(text: string): string {
  return text.trim().toLowerCase()
}

function separatorOf(lines: readonly string[]): string | null {
  if (lines.some((line) => line.trim().includes('\t'))) return '\t'
  for (const separator of [';', ',']) if (lines.length > 0 && lines.every((line) => line.includes(separator))) return separator
  return null
}

function dropLastEmpty(cells: readonly string[]): readonly string[] {
  let end = cells.length
  while (end > 1 && cells[end - 1] === '') end--
  return cells.slice(0, end)
}

const HEADS: readonly (readonly [TrayColumn, RegExp])[] = [
  ['serial', /^(serial|serials|serial ?(no\.?|number|nr\.?)|s\/?n|sn)$/i],
  ['batch', /^(batch|lot|week|week code|date code|batch ?(no\.?|number|code)|lot ?(no\.?|number))$/i],
  ['label', /^(label|sample|name|no\.?|nr\.?|number|#)$/i],
]

/** The columns that the first line names; null where it names none that a sample could be known by. */
function headOf(cells: readonly string[]): readonly TrayColumn[] | null {
  const columns = cells.map((cell) => HEADS.find(([, pattern]) => pattern.test(cell))?.[0] ?? 'left out')
  return columns.includes('serial') || columns.includes('label') ? columns : null
}

function guess(rows: readonly (readonly string[])[]): readonly TrayColumn[] {
  const width = Math.max(0, ...rows.map((row) => row.length))
  if (width <= 1) return ['serial']
  if (width > 2) return ['label', 'serial', 'batch', ...Array.from({ length: width - 3 }, () => 'left out' as const)]
  const mean = (place: number): number => rows.reduce((sum, row) => sum + (row[place] ?? '').length, 0) / rows.length
  // A lab's own label is shorter than a maker's serial; so is a batch, which stands behind it.
  return mean(0) < mean(1) ? ['label', 'serial'] : ['serial', 'batch']
}

interface Fields {
  readonly label?: string
  readonly serial?: string
  readonly batch?: string
}

function fields(cells: readonly string[], order: readonly TrayColumn[]): Fields {
  const of = (column: TrayColumn): string | undefined => {
    const cell = cells[order.indexOf(column)]
    return order.includes(column) && cell !== undefined && cell !== '' ? cell : undefined
  }
  const [label, serial, batch] = [of('label'), of('serial'), of('batch')]
  return { ...(label === undefined ? {} : { label }), ...(serial === undefined ? {} : { serial }), ...(batch === undefined ? {} : { batch }) }
}

function shapeProblems(cells: readonly string[], order: readonly TrayColumn[]): readonly string[] {
  const batch = cells[order.indexOf('batch')] ?? ''
  return [
    ...(cells.length > order.length ? [`${cells.length} columns stand here, where ${order.length === 1 ? 'one is' : `${order.length} are`} read.`] : []),
    ...(order.includes('batch') && batch.length > MOST_BATCH ? [`a batch must have at most ${MOST_BATCH} characters; got ${batch.length}.`] : []),
  ]
}

const MOST_BATCH = 100
/** With fewer serials there is no rule to hold one against. */
const FEWEST_FOR_A_RULE = 4
/** Share of the serials that must agree before one that differs is questioned. */
const RULE_SHARE = 0.75

/** By row: what is odd in its serial against the rest of the tray. Serials carry no check digit that we could know of, so the others are the only measure. */
function oddSerials(serials: readonly string[]): readonly (readonly string[])[] {
  const there = serials.filter((serial) => serial !== '')
  const rule = there.length < FEWEST_FOR_A_RULE ? null : mostCommon(there.map((serial) => serial.length))
  const fellows = rule === null ? [] : there.filter((serial) => serial.length === rule.value)
  const kinds = Array.from({ length: rule?.value ?? 0 }, (_unused, place) => mostCommon(fellows.map((serial) => kindOf(serial[place] ?? ''))))
  const letters = Array.from({ length: rule?.value ?? 0 }, (_unused, place) => mostCommon(fellows.map((serial) => (serial[place] ?? '').toUpperCase())))
  return serials.map((serial) => {
    if (serial === '') return []
    const blank = /\s/.test(serial) ? ['there is a blank inside the serial.'] : []
    if (rule === null || rule.share < RULE_SHARE) return blank
    if (serial.length !== rule.value) return [...blank, `${serial.length} characters, where ${rule.count} of ${there.length} have ${rule.value}.`]
    for (const [place, kind] of kinds.entries()) {
      const sign = serial[place] ?? ''
      if (kind.share >= RULE_SHARE && kindOf(sign) !== kind.value) return [...blank, `character ${place + 1} is "${sign}", where ${kind.count} of ${fellows.length} have a ${kind.value}.`]
      const letter = letters[place]
      // Digits count up along a tray; a letter that all others share does not.
      if (letter !== undefined && letter.share >= RULE_SHARE && kind.value === 'letter' && sign.toUpperCase() !== letter.value) {
        return [...blank, `character ${place + 1} is "${sign}", where ${letter.count} of ${fellows.length} have "${letter.value}".`]
      }
    }
    return blank
  })
}

function kindOf(sign: string): 'digit' | 'letter' | 'sign' {
  return /\d/.test(sign) ? 'digit' : /\p{L}/u.test(sign) ? 'letter' : 'sign'
}

function mostCommon<Value>(values: readonly Value[]): { readonly value: Value; readonly count: number; readonly share: number } {
  const counts = new Map<Value, number>()
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1)
  const [value, count] = [...counts].toSorted((a, b) => b[1] - a[1])[0] ?? []
  if (value === undefined || count === undefined) throw new RangeError('values must hold at least one; got none')
  return { value, count, share: count / values.length }
}
