// Lays the judged scenarios out as a table for the terminal.
import { percent } from './coverage-judge.ts'
import type { Judged, JudgedFigure } from './coverage-judge.ts'

export function tableLines(judged: readonly Judged[]): readonly string[] {
  const rows = judged.flatMap((scenario) => [
    ...scenario.figures.map((figure, index) => [index === 0 ? scenario.scenario : '', ...figureCells(figure)]),
    ...(scenario.mustSay === null ? [] : [['', `says ${scenario.mustSay.code}`, '', percent(scenario.mustSay.share), '', '', '', '', scenario.misses.length === 0 ? 'ok' : 'MISS']]),
    ...(scenario.mustSay !== null || scenario.notFair === 0 ? [] : [['', 'says not-fair', '', percent(scenario.notFair), '', '', '', '', 'printed']]),
  ])
  const header = ['scenario', 'scope', 'figure', 'coverage', 'bar', 'width', 'bar', 'false faster', '']
  const widths = header.map((title, column) => Math.max(title.length, ...rows.map((row) => row[column].length)))
  const line = (cells: readonly string[]): string => cells.map((cell, column) => (column < TEXT_COLUMNS ? cell.padEnd(widths[column]) : cell.padStart(widths[column]))).join('  ').trimEnd()
  const misses = judged.flatMap((each) => each.misses.map((miss) => `${each.scenario}: ${miss}`))
  return [line(header), line(widths.map((width) => '-'.repeat(width))), ...rows.map(line), '', ...(misses.length === 0 ? ['No bar missed.'] : [`Bars missed: ${misses.length}`, ...misses])]
}

const TEXT_COLUMNS = 3

function figureCells(figure: JudgedFigure): readonly string[] {
  const verdict = figure.misses.length > 0 ? 'MISS' : figure.barred ? 'ok' : 'printed'
  if (figure.widthBar === 0) return [figure.scope, figure.figure, `none in ${percent(figure.withoutInterval)}`, 'none', '', '', '', verdict]
  const bar = figure.coverageHigh === null ? `${plain(figure.coverageLow)}-` : `${plain(figure.coverageLow)}-${plain(figure.coverageHigh)}`
  return [
    figure.scope,
    figure.figure,
    figure.coverage === null ? '' : percent(figure.coverage),
    bar,
    figure.width === null ? '' : figure.width.toFixed(3),
    figure.widthBar.toFixed(2),
    figure.falseFaster === null ? '' : percent(figure.falseFaster),
    verdict,
  ]
}

function plain(share: number): string {
  return String(Math.round(share * 1000) / 10)
}
