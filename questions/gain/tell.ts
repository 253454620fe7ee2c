// How a Gain answer reads: the table that repeats the picture in figures and words, and the whole answer as plain text.
import { headlineText, intervalText, signed, unitText, viewOf, type Answer, type AnswerScope, type Estimate } from '@guardband/model'
import type { AnswerTable, TableRow } from '../define.ts'

/** Shapes carry a verdict's tone before colour does. */
export const TONE_SHAPES: Readonly<Record<'up' | 'down' | 'same' | 'open' | 'stop', string>> = { up: '▲', down: '▼', same: '◆', open: '○', stop: '▧' }

const UNCLEAR_SHAPES: Readonly<Record<string, string>> = { up: '△', down: '▽' }

/** A verdict's mark: hollow while how much is unclear. */
function shapeOf(verdict: { readonly code: string; readonly tone: keyof typeof TONE_SHAPES }): string {
  return verdict.code.endsWith('-unclear') ? (UNCLEAR_SHAPES[verdict.tone] ?? TONE_SHAPES[verdict.tone]) : TONE_SHAPES[verdict.tone]
}

/** Rows by workload in their groups, groups and overall at the foot. */
export function table(answer: Answer, scope: AnswerScope): AnswerTable {
  const estimates = answer.estimates.filter((estimate) => estimate.scope === scope)
  const workloads = estimates.filter((estimate) => estimate.role === 'workload')
  const foot = estimates.filter((estimate) => estimate.role === 'group' || estimate.role === 'overall')
  const units = [...new Set(estimates.filter((estimate) => estimate.role !== 'worth').map((estimate) => estimate.unit))]
  const unit = units.length === 1 ? `, ${unitText(units[0])}` : ''
  const cell = (estimate: Estimate): TableRow => row(estimate, units.length > 1)
  const groups = [...new Set(workloads.map((estimate) => estimate.group))]
  const named = groups.length > 1 || groups[0] !== undefined
  const rows = groups.flatMap((group): TableRow[] => [
    ...(named ? [{ role: 'group' as const, cells: [group ?? 'Other'] }] : []),
    ...workloads.filter((estimate) => estimate.group === group).map(cell),
  ])
  return {
    columns: [
      { key: 'label', header: 'workload', align: 'text' },
      { key: 'value', header: `gain${unit}`, align: 'number' },
      { key: 'low', header: 'from', align: 'number' },
      { key: 'high', header: 'to', align: 'number' },
      { key: 'verdict', header: 'in words', align: 'text' },
    ],
    // One row in all needs no foot that repeats it.
    rows: pointsAligned(workloads.length === 1 ? rows : [...rows, ...foot.map(cell)], [1, 2, 3]),
  }
}

/** Everything, for a terminal: sentence, basis, cautions that stop, table, margin, method. */
export function text(answer: Answer, options: { readonly scope: AnswerScope; readonly width: number }): string {
  const view = viewOf(answer, options.scope)
  const wrap = (line: string, indent = '') => wrapped(line, options.width, indent)
  const stops = answer.cautions.filter((caution) => caution.severity === 'stops')
  const others = answer.cautions.filter((caution) => caution.severity !== 'stops')
  const blocks: string[] = [
    ...(answer.simulated ? ['[simulated]'] : []),
    ...stops.map((caution) => wrap(`▧ ${caution.title}: ${caution.text}`, '  ')),
    wrap(headlineText(view.headline)),
    wrap(`${options.scope} · 95 % interval · ${answer.basis.sentence}`),
  ]
  if (answer.estimates.length > 0) blocks.push(tableText(table(answer, options.scope)))
  if (answer.band !== '') blocks.push(wrap(answer.band))
  if (view.unavailable !== undefined && answer.estimates.length > 0) blocks.push(wrap(view.unavailable))
  if (others.length > 0) blocks.push(others.map((caution) => wrap(`${caution.severity === 'warns' ? '!' : '-'} ${caution.title}: ${caution.text}`, '  ')).join('\n'))
  for (const section of answer.sections) blocks.push([section.title, ...section.sentences.map((sentence) => wrap(`  ${sentence}`, '  '))].join('\n'))
  if (answer.settle !== null) blocks.push(['What would settle it', wrap(`  ${answer.settle.sentence}`, '  ')].join('\n'))
  if (answer.methods.length > 0) blocks.push(['How it was computed', ...answer.methods.map((method) => wrap(`- ${method.text}${method.source === undefined ? '' : ` [${method.source}]`}`, '  '))].join('\n'))
  blocks.push(`snapshot ${answer.snapshotDigest.slice(0, SHORT_DIGEST)}`)
  return `${blocks.join('\n\n')}\n`
}

const SHORT_DIGEST = 16

function row(estimate: Estimate, unitsDiffer: boolean): TableRow {
  const label = unitsDiffer ? `${estimate.label}, ${unitText(estimate.unit)}` : estimate.label
  const role = estimate.role === 'workload' ? 'row' : 'total'
  if (estimate.value === null) return { role, estimateKey: estimate.key, cells: [label, '', '', '', estimate.note ?? ''] }
  if (estimate.low === null || estimate.high === null) return { role, estimateKey: estimate.key, cells: [label, signed(estimate.value, 1), '', '', estimate.note ?? ''] }
  const limits = [0, ...(estimate.bandLow === null ? [] : [estimate.bandLow]), ...(estimate.bandHigh === null ? [] : [estimate.bandHigh])]
  const figures = intervalText({ value: estimate.value, low: estimate.low, high: estimate.high, signs: 'plus', limits })
  const verdict = estimate.verdict
  return {
    role, estimateKey: estimate.key,
    cells: [label, figures.value, figures.low, figures.high, verdict === null ? '' : `${shapeOf(verdict)} ${verdict.words}`],
    ...(verdict === null ? {} : { tone: verdict.tone }),
  }
}

/** Pads figures on the right with spaces as wide as a digit and a point, so that right-aligned columns line up at the decimal point. */
function pointsAligned(rows: readonly TableRow[], columns: readonly number[]): readonly TableRow[] {
  const most = new Map(columns.map((column) => [column, Math.max(0, ...rows.map((line) => decimals(line.cells[column])))] as const))
  return rows.map((line) => ({
    ...line,
    cells: line.cells.map((cell, column) => {
      const wanted = most.get(column) ?? 0
      if (cell === '' || wanted === 0) return cell
      const has = decimals(cell)
      return `${cell}${has === 0 ? POINT_SPACE : ''}${FIGURE_SPACE.repeat(wanted - has)}`
    }),
  }))
}

function decimals(cell: string | undefined): number {
  return (cell ?? '').split('.')[1]?.length ?? 0
}

const FIGURE_SPACE = '\u2007'
const POINT_SPACE = '\u2008'

function tableText(content: AnswerTable): string {
  const widths = content.columns.map((column, index) => Math.max(column.header.length, ...content.rows.map((line) => (line.role === 'group' ? 0 : (line.cells[index] ?? '').length))))
  const line = (cells: readonly string[]) =>
    content.columns.map((column, index) => (column.align === 'number' ? (cells[index] ?? '').padStart(widths[index]) : (cells[index] ?? '').padEnd(widths[index]))).join('  ').trimEnd()
  const rule = '-'.repeat(widths.reduce((sum, width) => sum + width, 0) + 2 * (widths.length - 1))
  const lines: string[] = [line(content.columns.map((column) => column.header)), rule]
  let footed = false
  for (const entry of content.rows) {
    if (entry.role === 'total' && !footed) {
      lines.push(rule)
      footed = true
    }
    lines.push(entry.role === 'group' ? entry.cells[0] : line(entry.cells))
  }
  return lines.join('\n')
}

/** Breaks at spaces; lines after the first are indented. */
function wrapped(content: string, width: number, indent: string): string {
  const lines: string[] = []
  let current = content.startsWith(' ') ? indent : ''
  for (const word of content.trim().split(' ')) {
    const start = current.trim() === ''
    if (!start && current.length + 1 + word.length > width) {
      lines.push(current)
      current = `${indent}${word}`
    } else current = start ? `${current}${word}` : `${current} ${word}`
  }
  lines.push(current)
  return lines.join('\n')
}
