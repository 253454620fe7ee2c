// A published report as one HTML file that needs nothing else: no network, no script, no font of the reader's machine.
import { fixed, headlineText } from '@guardband/model'
import { answerHtml, headlineHtml } from './answer-html.ts'
import { momentText, namesIn, SIMULATED, SIMULATED_SENTENCE, viewsInOrder, type ReportInput } from './answer-parts.ts'
import { packagedTypefaces, typefaceRules, type Typeface } from './fonts.ts'
import { html, nothing, trusted, type Markup } from './html.ts'
import { reportStyle } from './style.ts'

/** The whole document. The same input gives the same bytes. */
export function renderReport(input: ReportInput, typefaces: readonly Typeface[] = packagedTypefaces()): string {
  const { title, lab, at, number, answers } = input
  const simulated = lab.simulated || answers.some((answer) => answer.simulated)
  return html`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="${POLICY}">
<meta name="color-scheme" content="light dark">
<meta name="referrer" content="no-referrer">
<title>${title} - ${lab.name}${simulated ? ` (${SIMULATED})` : ''}</title>
<style>${trusted(typefaceRules(typefaces) + reportStyle)}</style>
</head>
<body>
<header class="cover">
<p class="line"><b><bdi>${lab.name}</bdi></b><span>Report ${fixed(number, 0)}</span><time datetime="${at}">${momentText(at)}</time>${simulated ? html`<span class="sim">${SIMULATED}</span>` : nothing}</p>
<h1>${title}</h1>
${simulated ? html`<p class="line">${SIMULATED_SENTENCE}</p>\n` : nothing}${contents(input)}</header>
<main>
${answers.map((answer, index) => answerHtml(answer, anchorOf(index)))}</main>
</body>
</html>
`.markup
}

/** Headlines as plain text, in the report's order. */
export function reportHeadlines(input: ReportInput): readonly string[] {
  return input.answers.map((answer) => headlineText(viewsInOrder(answer)[0].headline))
}

const POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:"

function contents({ answers }: ReportInput): Markup {
  if (answers.length < 2) return nothing
  const items = answers.map((answer, index) => {
    const [view] = viewsInOrder(answer)
    return html`<li><a href="#${anchorOf(index)}"><bdi>${answer.question.title}</bdi></a><br>${headlineHtml(view.headline, view, namesIn(answer))}</li>\n`
  })
  return html`<nav class="contents" aria-label="Contents"><h2>Answers</h2><ol>${items}</ol></nav>\n`
}

function anchorOf(index: number): string {
  return `answer-${index + 1}`
}
