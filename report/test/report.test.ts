// What a published report holds, read from its text.
import { headlineText, type Answer, type Caution } from '@guardband/model'
import { table } from '@guardband/questions/gain/tell'
import { makeEstimate, sampleAnswer, verdicts, withEstimates } from '@guardband/questions/test/sample-answer'
import { describe, expect, test } from 'vitest'
import { momentText } from '../answer-parts.ts'
import { html, sentence } from '../html.ts'
import { renderMarkdown, renderReport, reportHeadlines, type ReportInput } from '../index.ts'
import { plain } from '../render-markdown.ts'

const input: ReportInput = {
  title: 'Quillon 14R against Quillon 14',
  lab: { name: 'Hollin & Pike', simulated: true },
  at: '2026-11-03T14:05:00Z',
  number: 7,
  answers: [sampleAnswer],
}

const unfair: Answer = {
  ...sampleAnswer,
  views: sampleAnswer.views.map((view) => ({ ...view, verdict: verdicts.unfair, headline: [{ text: 'Not a fair comparison', verdict: true }, { text: ': 1.8 % as measured.' }] })),
  cautions: [{ code: 'firmware', severity: 'stops', title: 'Firmware differs', text: 'Side A ran another firmware than side B.', records: [] }],
}

/** The document without its typefaces, tags taken out, entities and no-break spaces turned back. */
function textOf(document: string): string {
  return document
    .replace(/<style>[^]*?<\/style>/, '')
    .replace(/<svg[^]*?<\/svg>/g, '')
    .replace(/<\/(?:t[dh]|tr|p|h\d|li|caption)>/g, '\n')
    .replace(/<[^>]*>/g, '')
    .replaceAll('&lt;', '<').replaceAll('&gt;', '>').replaceAll('&quot;', '"').replaceAll('&#39;', "'").replaceAll('&amp;', '&').replaceAll('\u00a0', ' ')
}

function groundsText(scope: string): string {
  return `${scope} · 95 % interval · ${sampleAnswer.basis.sentence}`
}

function placesOf(text: string, parts: readonly string[]): readonly number[] {
  return parts.map((part) => text.indexOf(part))
}

describe('one answer on every surface', () => {
  test('every cell of the table stands in HTML and Markdown as it was told', () => {
    const lines = new Set(textOf(renderReport(input)).split('\n').map((line) => line.trim()))
    const markdown = renderMarkdown(input)
    for (const { scope } of sampleAnswer.views) {
      for (const row of table(sampleAnswer, scope).rows) {
        for (const cell of row.cells) expect(lines, cell).toContain(cell)
        const cells = row.role === 'row' ? row.cells : row.cells.map((cell) => `**${cell}**`)
        expect(markdown).toContain(`| ${cells.join(' | ')} |`)
      }
    }
  })

  test('headlines, basis, cautions, sections, settle and methods are the answer’s own sentences', () => {
    const sentences = [
      ...sampleAnswer.views.map((view) => headlineText(view.headline)),
      sampleAnswer.basis.sentence,
      ...sampleAnswer.cautions.flatMap((caution) => [caution.title, caution.text]),
      ...sampleAnswer.sections.flatMap((section) => [section.title, ...section.sentences]),
      sampleAnswer.settle?.sentence ?? 'missing',
      ...sampleAnswer.methods.flatMap((method) => [method.text, method.source ?? '']),
      sampleAnswer.band,
      sampleAnswer.snapshotDigest,
    ]
    const text = textOf(renderReport(input))
    const markdown = renderMarkdown(input)
    for (const part of sentences) {
      expect(text).toContain(part)
      expect(markdown).toContain(part)
    }
  })

  test('the headline’s scope comes first, whichever it is', () => {
    const other: Answer = { ...sampleAnswer, scope: 'samples like these' }
    const headlines = sampleAnswer.views.map((view) => headlineText(view.headline))
    for (const render of [(answer: Answer) => textOf(renderReport({ ...input, answers: [answer] })), (answer: Answer) => renderMarkdown({ ...input, answers: [answer] })]) {
      const [first, second] = placesOf(render(sampleAnswer), headlines)
      expect(first).toBeLessThan(second)
      const [third, fourth] = placesOf(render(other), headlines)
      expect(third).toBeGreaterThan(fourth)
    }
    expect(reportHeadlines({ ...input, answers: [other] })).toEqual([headlines[1]])
  })

  test('no number stands without its scope, its kind of interval and its basis', () => {
    for (const { scope } of sampleAnswer.views) {
      expect(renderMarkdown(input)).toContain(groundsText(scope))
      expect(textOf(renderReport(input))).toContain(groundsText(scope).replace(' · 95', ' 95').replace('interval ·', 'interval'))
    }
  })

  test('what stops a comparison comes before its number', () => {
    for (const text of [textOf(renderReport({ ...input, answers: [unfair] })), renderMarkdown({ ...input, answers: [unfair] })]) {
      const [caution, number] = placesOf(text, ['Side A ran another firmware', '1.8 % as measured'])
      expect(caution).toBeGreaterThan(0)
      expect(caution).toBeLessThan(number)
    }
  })

  test('a scope without an answer says why and draws nothing', () => {
    const answer: Answer = {
      ...sampleAnswer,
      estimates: sampleAnswer.estimates.filter((estimate) => estimate.scope === 'these samples'),
      views: sampleAnswer.views.map((view) => (view.scope === 'these samples' ? view : { ...view, unavailable: 'One sample can’t speak for others of its kind.' })),
    }
    const document = renderReport({ ...input, answers: [answer] })
    expect(textOf(document)).toContain('One sample can’t speak for others of its kind.')
    expect(document.match(/<figure>/g)).toHaveLength(1)
    expect(document.match(/<table\b/g)).toHaveLength(1)
  })
})

describe('marks', () => {
  test('the shape before a verdict is coloured and not read aloud, hollow ones too', () => {
    const unclear = withEstimates([makeEstimate({ key: 'a', label: 'a', value: 2, low: 0.5, high: 3.5, verdict: { code: 'faster-unclear', words: 'Faster, how much is unclear', tone: 'up' } })])
    expect(renderReport({ ...input, answers: [unclear] })).toContain('<td><span class="v tone-up" aria-hidden="true">△</span> Faster, how much is unclear</td>')
  })

  test('simulated stands on the report and on each answer, and on none that is real', () => {
    const document = renderReport(input)
    expect(document.match(/<span class="sim">simulated<\/span>/g)).toHaveLength(2)
    expect(document).toMatch(/<title>[^<]*\(simulated\)<\/title>/)
    expect(renderMarkdown(input).match(/\*\*simulated\*\*/g)).toHaveLength(2)
    const real: ReportInput = { ...input, lab: { ...input.lab, simulated: false }, answers: [{ ...sampleAnswer, simulated: false }] }
    expect(textOf(renderReport(real))).not.toMatch(/simulated/i)
    expect(renderMarkdown(real)).not.toMatch(/simulated/i)
  })

  test('several answers get a list of contents, one does not', () => {
    expect(renderReport(input)).not.toContain('<nav')
    const document = renderReport({ ...input, answers: [sampleAnswer, unfair] })
    expect(document.match(/href="#answer-\d"/g)).toEqual(['href="#answer-1"', 'href="#answer-2"'])
    expect(document.match(/id="answer-\d"/g)).toEqual(['id="answer-1"', 'id="answer-2"'])
  })

  test('a moment is printed as it was given', () => {
    expect(momentText('2026-11-03T14:05:59.123Z')).toBe('2026-11-03 14:05 UTC')
    expect(momentText('2026-11-03T14:05:00+01:00')).toBe('2026-11-03 14:05 +01:00')
    expect(momentText('some day')).toBe('some day')
  })
})

describe('one file, nothing fetched, nothing run', () => {
  test('there is no script, no address and a policy that allows none', () => {
    const document = renderReport(input)
    expect(document).toContain(`content="default-src &#39;none&#39;; style-src &#39;unsafe-inline&#39;; img-src data:; font-src data:"`)
    expect(document.match(/<script|<link|<iframe|<object|<img|\son\w+=/gi)).toBeNull()
    expect(document.replaceAll('xmlns="http://www.w3.org/2000/svg"', '').match(/\b(?:https?|ftp|file|javascript):/gi)).toBeNull()
    expect(document.match(/url\((?!data:)/g)).toBeNull()
  })

  test('it stays under 200 kB, typefaces included', () => {
    expect(renderReport(input).length).toBeLessThan(200_000)
  })

  test('the same input gives the same bytes', () => {
    expect(renderReport(structuredClone(input))).toBe(renderReport(input))
  })
})

const attacks = [
  '<script>alert(1)</script>',
  '"><img src=x onerror=alert(1)>',
  "' onmouseover='alert(1)",
  '</title></style><script>alert(1)</script>',
  '</svg><script>alert(1)</script>',
  '&lt;script&gt;',
  'https://hollin.example/ www.hollin.example crew@hollin.example',
  '[click](javascript:alert(1)) ![x](data:1) `code` **bold** | cell | # head',
  'gain\u202e %9.9 rewols\u202c\u0000\u0007\ud800 end',
  '${title} ${`x`}',
]

function everywhere(text: string): ReportInput {
  const caution: Caution = { code: 'x', severity: 'warns', title: text, text, records: [] }
  const answer: Answer = {
    ...withEstimates([makeEstimate({ key: text, label: text, group: text, note: text, unit: text }), makeEstimate({ key: 'b', label: text, value: null, low: null, high: null, note: text, verdict: null })]),
    question: { id: text, title: text },
    lab: text,
    sides: [text, text],
    views: sampleAnswer.views.map((view) => ({ ...view, headline: [{ text }, { text, verdict: true }], unavailable: text })),
    cautions: [caution, { ...caution, severity: 'stops' }, { ...caution, severity: 'notes' }],
    sections: [{ code: text, title: text, sentences: [text] }],
    methods: [{ text, source: text }],
    band: text,
    basis: { ...sampleAnswer.basis, sentence: text },
  }
  return { ...input, title: text, lab: { name: text, simulated: true }, answers: [answer, answer] }
}

describe('hostile names', () => {
  test.each(attacks)('stay text in HTML: %j', (attack) => {
    const document = renderReport(everywhere(attack))
    const tags = new Set(Array.from(document.matchAll(/<([a-z][a-z0-9]*)/gi), (match) => match[1]))
    const known = new Set(Array.from(renderReport({ ...input, answers: [unfair, sampleAnswer] }).matchAll(/<([a-z][a-z0-9]*)/gi), (match) => match[1]))
    expect([...tags].filter((tag) => !known.has(tag))).toEqual([])
    const tagsAlone = document.replace(/<style>[^]*?<\/style>/, '').replace(/="[^"]*"/g, '=""')
    expect(tagsAlone.match(/<[^>]*\son\w+\s*=/gi)).toBeNull()
    expect(document.match(/<\/(?:title|style|html|body)>/g)?.filter((tag) => tag === '</style>')).toHaveLength(1)
    expect(/[\u202a-\u202e\u2066-\u2069]/.test(document)).toBe(false)
    expect(document.isWellFormed()).toBe(true)
  })

  test('an attack is still there to be read', () => {
    expect(textOf(renderReport(everywhere('<script>alert(1)</script>')))).toContain('<script>alert(1)</script>')
  })

  test.each(attacks)('give no markup, link or further cell in Markdown: %j', (attack) => {
    const markdown = renderMarkdown(everywhere(attack))
    expect(markdown.match(/<[a-z/!]/gi)).toBeNull()
    expect(markdown.match(/(?<!\\)\]\(/g)).toBeNull()
    expect(markdown.match(/\b(?:https?|ftp):\/\//g)).toBeNull()
    expect(markdown.match(/\bwww\.|\w@\w/g)).toBeNull()
    for (const line of markdown.split('\n').filter((row) => row.startsWith('|'))) expect(line.match(/(?<!\\)\|/g)).toHaveLength(6)
  })

  test('Markdown text never opens a heading, list, rule or quote', () => {
    expect(['# a', '- a', '+ a', '1. a', '2) a', '> a', '---', '===', '* a', '~~~'].map(plain)).toEqual(['\\# a', '\\- a', '\\+ a', '1\\. a', '2\\) a', '&gt; a', '\\---', '\\===', '\\* a', '\\~\\~\\~'])
    expect(['2.9', '-0.3', '+1.8 % overall'].map(plain)).toEqual(['2.9', '-0.3', '+1.8 % overall'])
  })

  test('a name written from right to left keeps to itself', () => {
    expect(sentence('אבג 14 is faster than אבג: 1.8 %', ['אבג 14', 'אבג', 'Quillon']).markup).toBe('<bdi>אבג 14</bdi> is faster than <bdi>אבג</bdi>: 1.8\u00a0%')
  })

  test('the template escapes what it is given and leaves its own markup', () => {
    expect(html`<p title="${'"<&'}">${['a<', html`<b>${"'"}</b>`]}${3}</p>`.markup).toBe('<p title="&quot;&lt;&amp;">a&lt;<b>&#39;</b>3</p>')
  })
})
