// The same report as Markdown: sentences, tables, cautions and methods, without the picture.
import { fixed, headlineText, type Answer, type View } from '@guardband/model'
import { questionKinds } from '@guardband/questions'
import { visibleText } from '@guardband/questions/visible-text'
import { cautionsOf, groundsOf, KIND_NAMES, momentText, SIMULATED, SIMULATED_SENTENCE, viewsInOrder, type ReportInput } from './answer-parts.ts'

export function renderMarkdown({ title, lab, at, number, answers }: ReportInput): string {
  const simulated = lab.simulated || answers.some((answer) => answer.simulated)
  const blocks = [
    `# ${plain(title)}`,
    `${plain(lab.name)} · Report ${fixed(number, 0)} · ${momentText(at)}${simulated ? ` · **${SIMULATED}**` : ''}`,
    ...(simulated ? [SIMULATED_SENTENCE] : []),
    ...answers.flatMap(answerBlocks),
  ]
  return `${blocks.join('\n\n')}\n`
}

/** User text that Markdown takes for nothing but text: no markup, links, tables, headings or lists come of it. */
export function plain(text: string): string {
  return inline(text)
    .replace(/^([-+])(?=\s|$)/, '\\$1')
    .replace(/^(-+|=+)$/, '\\$1')
    .replace(/^(\d+)([.)])(?=\s|$)/, '$1\\$2')
}

/** The same for text that doesn't begin a line. */
export function inline(text: string): string {
  return visibleText(text)
    .trim()
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replace(/[\\`*_[\]|~#@!]/g, '\\$&')
    .replace(/:(?=\/\/)/g, '\\:')
    .replace(/\b(www)\./gi, '$1\\.')
}

function answerBlocks(answer: Answer): readonly string[] {
  const [first, ...others] = viewsInOrder(answer)
  const margin = [...cautionsOf(answer, 'warns'), ...cautionsOf(answer, 'notes')]
  return [
    '---',
    `${KIND_NAMES[answer.kind]} · ${plain(answer.question.title)}${answer.simulated ? ` · **${SIMULATED}**` : ''}`,
    ...cautionsOf(answer, 'stops').map((caution) => `> **${plain(caution.title)}** ${plain(caution.text)}`),
    `## ${plain(headlineText(first.headline))}`,
    plain(groundsOf(answer, first.scope).join(' · ')),
    ...viewBlocks(answer, first),
    ...others.flatMap((view) => [`### ${plain(headlineText(view.headline))}`, plain(groundsOf(answer, view.scope).join(' · ')), ...viewBlocks(answer, view)]),
    ...margin.map((caution) => `**${caution.severity === 'warns' ? '! ' : ''}${plain(caution.title)}** ${plain(caution.text)}`),
    ...answer.sections.map((section) => `**${plain(section.title)}** ${section.sentences.map(plain).join(' ')}`),
    ...(answer.settle === null ? [] : [`**What would settle it** ${plain(answer.settle.sentence)}`]),
    '**How it was computed**',
    answer.methods.map((method) => `- ${plain(method.text)}${method.source === undefined ? '' : ` (${plain(method.source)})`}`).join('\n'),
    `Snapshot digest: \`${answer.snapshotDigest}\``,
  ]
}

function viewBlocks(answer: Answer, view: View): readonly string[] {
  const told = questionKinds[answer.kind].table(answer, view.scope)
  const why = view.unavailable === undefined ? [] : [plain(view.unavailable)]
  if (told.rows.length === 0) return why
  const rows = told.rows.map((row) => {
    const cells = told.columns.map((_, index) => inline(row.cells[index] ?? ''))
    return line(row.role === 'row' ? cells : cells.map((cell) => (cell === '' ? '' : `**${cell}**`)))
  })
  return [...why, [line(told.columns.map((column) => inline(column.header))), line(told.columns.map((column) => (column.align === 'number' ? '---:' : ':---'))), ...rows].join('\n'), plain(answer.band)]
}

function line(cells: readonly string[]): string {
  return `| ${cells.join(' | ')} |`
}
