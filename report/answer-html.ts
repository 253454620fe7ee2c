// One answer as part of an HTML report: what stops it, headline, picture, table, margin; then the other scope.
import { type Answer, type AnswerScope, type Headline, type View } from '@guardband/model'
import { pictureText, questionKinds, type AnswerTable, type PictureNode, type TableRow } from '@guardband/questions'
import { cautionsOf, groundsOf, hasFigures, KIND_NAMES, namesIn, SIMULATED, viewsInOrder } from './answer-parts.ts'
import { html, nothing, sentence, trusted, type Markup } from './html.ts'

export function answerHtml(answer: Answer, anchor: string): Markup {
  const names = namesIn(answer)
  const [first, ...others] = viewsInOrder(answer)
  return html`<article id="${anchor}">
<p class="line"><span>${KIND_NAMES[answer.kind]}</span><bdi>${answer.question.title}</bdi>${answer.simulated ? html`<span class="sim">${SIMULATED}</span>` : nothing}</p>
${cautionsOf(answer, 'stops').map((caution) => html`<div class="stop"><h3>${caution.title}</h3><p>${sentence(caution.text, names)}</p></div>\n`)}<h2>${headlineHtml(first.headline, first, names)}</h2>
${groundsHtml(answer, first, names)}
<div class="page"><div>
${viewHtml(answer, first, names)}${others.map((view) => otherViewHtml(answer, view, names))}</div>
${marginHtml(answer, names)}
</div></article>\n`
}

export function headlineHtml(headline: Headline, view: View, names: readonly string[]): Markup {
  return html`${headline.map((piece) => (piece.verdict === true ? html`<strong class="v tone-${view.verdict.tone}">${sentence(piece.text, names)}</strong>` : sentence(piece.text, names)))}`
}

function groundsHtml(answer: Answer, view: View, names: readonly string[]): Markup {
  const [scope, ...grounds] = groundsOf(answer, view.scope)
  return html`<p class="meta"><span class="scope">${scope}</span>${grounds.map((ground) => html` <span>${sentence(ground, names)}</span>`)}</p>`
}

/** Layouts of the picture; style shows the one that its column has room for. */
const PICTURES = [
  { fit: 'wide', width: 740 },
  { fit: 'middle', width: 560 },
  { fit: 'narrow', width: 330 },
] as const

function otherViewHtml(answer: Answer, view: View, names: readonly string[]): Markup {
  return html`<section class="other"><h3>${headlineHtml(view.headline, view, names)}</h3>
${groundsHtml(answer, view, names)}
${viewHtml(answer, view, names)}</section>\n`
}

function viewHtml(answer: Answer, view: View, names: readonly string[]): Markup {
  const why = view.unavailable === undefined ? nothing : html`<p>${sentence(view.unavailable, names)}</p>\n`
  const drawn = hasFigures(answer, view.scope)
    ? html`<div class="sheet"><figure>${PICTURES.map((variant) => pictureHtml(answer, view.scope, variant))}<figcaption>${sentence(answer.band, names)}</figcaption></figure></div>\n`
    : nothing
  return html`${why}${drawn}${tableHtml(answer, view.scope)}`
}

function pictureHtml(answer: Answer, scope: AnswerScope, variant: (typeof PICTURES)[number]): Markup {
  const root = questionKinds[answer.kind].picture(answer, { scope, width: variant.width })
  const fitted: PictureNode = { ...root, attributes: { ...root.attributes, class: `${String(root.attributes['class'])} fit-${variant.fit}` } }
  return trusted(pictureText(fitted))
}

function tableHtml(answer: Answer, scope: AnswerScope): Markup {
  const told = questionKinds[answer.kind].table(answer, scope)
  if (told.rows.length === 0) return nothing
  const heads = told.columns.map((column) => html`<th scope="col"${column.align === 'number' ? html` class="n"` : nothing}>${column.header}</th>`)
  const numbers = told.columns.filter((column) => column.align === 'number').length
  const words = told.columns.at(-1)?.align === 'text' ? html` class="words-last" style="--numbers:${numbers}"` : nothing
  return html`<table${words}><caption>By workload, ${scope}</caption><thead><tr>${heads}</tr></thead><tbody>
${told.rows.map((row) => rowHtml(told, row))}</tbody></table>\n`
}

function rowHtml(told: AnswerTable, row: TableRow): Markup {
  if (row.role === 'group') return html`<tr class="group"><th colspan="${told.columns.length}" scope="colgroup"><bdi>${row.cells[0] ?? ''}</bdi></th></tr>\n`
  const cells = told.columns.map((column, index) => {
    const text = row.cells[index] ?? ''
    if (index === 0) return html`<th scope="row"><bdi>${text}</bdi></th>`
    return html`<td${column.align === 'number' ? html` class="n"` : nothing}>${cellHtml(text, row)}</td>`
  })
  return html`<tr${row.role === 'total' ? html` class="total"` : nothing}>${cells}</tr>\n`
}

/** The shape before a verdict gets its colour; read aloud it would only be in the way. */
function cellHtml(text: string, row: TableRow): Markup {
  const [shape] = /^\p{So}(?= )/u.exec(text) ?? []
  if (shape === undefined || row.tone === undefined) return html`${text}`
  return html`<span class="v tone-${row.tone}" aria-hidden="true">${shape}</span>${text.slice(shape.length)}`
}

function marginHtml(answer: Answer, names: readonly string[]): Markup {
  const cautions = [...cautionsOf(answer, 'warns'), ...cautionsOf(answer, 'notes')]
  return html`<aside>
${cautions.map((caution) => html`<section class="${caution.severity}"><h3>${caution.severity === 'warns' ? '! ' : ''}${caution.title}</h3><p>${sentence(caution.text, names)}</p></section>\n`)}${answer.sections.map((section) => html`<section><h3>${section.title}</h3>${section.sentences.map((text) => html`<p>${sentence(text, names)}</p>`)}</section>\n`)}${answer.settle === null ? nothing : html`<section><h3>What would settle it</h3><p>${sentence(answer.settle.sentence, names)}</p></section>\n`}<section><h3>How it was computed</h3><ul>${answer.methods.map((method) => html`<li>${sentence(method.text, names)}${method.source === undefined ? nothing : html` <cite>${method.source}</cite>`}</li>`)}</ul></section>
<section><h3>Snapshot digest</h3><p><code>${answer.snapshotDigest}</code></p><p>The answer stands for the records under this digest.</p></section>
</aside>`
}
