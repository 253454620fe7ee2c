// What a surface tells of one answer in one scope, read off the terminal's text, the page, and the report, and taken from the answer itself.
import type { Locator, Page } from 'playwright-core'
import { headlineText, viewOf, type Answer, type AnswerScope, type Caution } from '@guardband/model'
import { table } from '@guardband/questions/gain/tell'

export interface Told {
  /** Cautions that stop: they come before the sentence. */
  readonly stops: readonly string[]
  readonly headline: string
  readonly basis: string
  /** Rows of cells, heads first; without the shape before a verdict. */
  readonly table: readonly (readonly string[])[]
  /** Cautions, further sections, what would settle it: "title: sentences". A warning begins with "! ". */
  readonly margin: readonly string[]
  readonly methods: readonly string[]
}

export interface TextTold extends Omit<Told, 'table'> {
  /** Rows in one line: between columns there are only spaces. */
  readonly table: readonly string[]
}

export function toldOf(answer: Answer, scope: AnswerScope): Told {
  const { columns, rows } = table(answer, scope)
  const of = (severity: Caution['severity']): readonly Caution[] => answer.cautions.filter((caution) => caution.severity === severity)
  return {
    stops: of('stops').map(({ title, text }) => plain(`${title}: ${text}`)),
    headline: plain(headlineText(viewOf(answer, scope).headline)),
    basis: plain(answer.basis.sentence),
    table: rows.length === 0 ? [] : [columns.map(({ header }) => plain(header)), ...rows.map((row) => trimmed(row.cells.map(withoutShape)))],
    margin: [
      ...of('warns').map(({ title, text }) => plain(`! ${title}: ${text}`)),
      ...of('notes').map(({ title, text }) => plain(`${title}: ${text}`)),
      ...answer.sections.map(({ title, sentences }) => plain(`${title}: ${sentences.join(' ')}`)),
      ...(answer.settle === null ? [] : [plain(`${SETTLE}: ${answer.settle.sentence}`)]),
    ],
    methods: answer.methods.map(({ text, source }) => plain(source === undefined ? text : `${text} ${source}`)),
  }
}

/** Undoes the line breaks of `ask`: blocks are apart by an empty line, entries of a block begin further left than their next lines. */
export function readText(text: string): TextTold {
  const blocks = text.trimEnd().split('\n\n').filter((block) => block !== '[simulated]')
  const headlineAt = blocks.findIndex((block) => !isStop(block))
  const tableBlock = blocks.find((block) => /^-{8,}$/m.test(block))
  const margin: string[] = []
  let methods: readonly string[] = []
  for (const block of blocks.slice(headlineAt + 2)) {
    const [title, ...lines] = block.split('\n')
    if (block === tableBlock || lines.length === 0) continue
    if (title === METHODS) methods = entries(lines, '  ').map((method) => method.replace(/^- /, '').replace(/ \[([^[]*)\]$/, ' $1'))
    else if (/^[!-] /.test(title)) margin.push(...entries(block.split('\n'), '  ').map((entry) => entry.replace(/^- /, '')))
    else if (lines.every((line) => line.startsWith('  '))) margin.push(plain(`${title}: ${lines.join(' ')}`))
  }
  return {
    stops: blocks.slice(0, headlineAt).map((block) => plain(block.slice(2))),
    headline: plain(blocks[headlineAt]),
    basis: plain(blocks[headlineAt + 1]).replace(/^(?:these samples|samples like these) · 95 % interval · /, ''),
    table: (tableBlock ?? '').split('\n').filter((line) => line !== '' && !/^-+$/.test(line)).map((line) => plain(withoutShape(line))),
    margin,
    methods,
  }
}

function isStop(block: string): boolean {
  return block.startsWith(STOP)
}

export async function readPage(page: Page): Promise<Told> {
  await page.getByRole('heading', { name: METHODS }).waitFor()
  // Picture and table come with the kind's own code, after the sentence.
  await page.locator('.waiting').first().waitFor({ state: 'detached' })
  const stops = await Promise.all((await page.locator('.stops > div').all()).map((stop) => noteText(stop, 'h2')))
  const notes = await notesOf(page.locator('aside[aria-label="Notes in the margin"]'), 'h2')
  return {
    stops,
    headline: plain((await page.locator('h1').textContent()) ?? ''),
    basis: await basisOf(page.locator('.meta > span')),
    table: await rowsOf(page.locator('table.answer-table')),
    ...notes,
  }
}

export async function readReport(page: Page, index: number, scope: AnswerScope): Promise<Told> {
  const article = page.locator('article').nth(index)
  const headScope = plain((await article.locator('> .meta .scope').textContent()) ?? '')
  const other = article.locator('section.other')
  const view = headScope === scope ? article.locator('.page > div') : other
  const stops = await Promise.all((await article.locator('.stop').all()).map((stop) => noteText(stop, 'h3')))
  return {
    stops,
    headline: plain((await (headScope === scope ? article.locator('> h2') : other.locator('> h3')).textContent()) ?? ''),
    basis: await basisOf(article.locator('> .meta > span')),
    table: await rowsOf(view.locator('> table')),
    ...(await notesOf(article.locator('aside'), 'h3')),
  }
}

/** Before a caution that stops, as the terminal has it. */
const STOP = '▧ '
const SETTLE = 'What would settle it'
const METHODS = 'How it was computed'
const DIGEST = 'Snapshot digest'

async function notesOf(aside: Locator, heading: 'h2' | 'h3'): Promise<Pick<Told, 'margin' | 'methods'>> {
  const notes = await Promise.all((await aside.locator('> section').all()).map((note) => noteText(note, heading)))
  return {
    margin: notes.filter((note) => !note.startsWith(`${METHODS}:`) && !note.startsWith(`${DIGEST}:`)),
    methods: await Promise.all((await aside.locator('li').all()).map(methodText)),
  }
}

/** A source stands on a line of its own on one surface, after a space on another. */
async function methodText(item: Locator): Promise<string> {
  const [source = ''] = await item.locator('cite').allTextContents()
  const text = (await item.textContent()) ?? ''
  return plain(`${text.slice(0, text.length - source.length)} ${source}`)
}

/** "title: paragraphs", without the page's way to the records behind a caution. */
async function noteText(note: Locator, heading: 'h2' | 'h3'): Promise<string> {
  const title = await note.locator(heading).textContent()
  const paragraphs = await note.locator('> p').allTextContents()
  return plain(`${title ?? ''}: ${paragraphs.map((text) => text.replace(/\s*See\s[\d\s]+\srecords?$/, '')).join(' ')}`)
}

/** Of the entries beside the headline the one that counts samples, starts and runs. */
async function basisOf(spans: Locator): Promise<string> {
  const texts = (await spans.allTextContents()).map(plain)
  return texts.find((text) => / runs?\b/.test(text)) ?? texts.join(' | ')
}

async function rowsOf(found: Locator): Promise<readonly (readonly string[])[]> {
  const rows: (readonly string[])[] = []
  for (const row of await found.locator('tr').all()) rows.push(trimmed((await row.locator('th, td').allTextContents()).map(withoutShape)))
  return rows
}

/** Entries that begin at the margin of their block; deeper lines go on with the one before. */
function entries(lines: readonly string[], deeper: string): readonly string[] {
  const found: string[] = []
  for (const line of lines) {
    if (line.startsWith(deeper) && found.length > 0) found[found.length - 1] += ` ${line}`
    else found.push(line)
  }
  return found.map(plain)
}

function withoutShape(cell: string): string {
  return plain(cell.replace(/[▲△▼▽◆○▧] /, ''))
}

/** A group's line has one cell on one surface and empty ones after it on another. */
function trimmed(cells: readonly string[]): readonly string[] {
  return cells.slice(0, cells.findLastIndex((cell) => cell !== '') + 1)
}

function plain(text: string): string {
  return text.replaceAll(/\s+/g, ' ').trim()
}
