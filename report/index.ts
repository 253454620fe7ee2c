// Answers -> one document that reads the same years later: HTML in one file, or Markdown.
export type { ReportInput } from './answer-parts.ts'
export { packagedTypefaces, typefaceRules, type Typeface } from './fonts.ts'
export { renderMarkdown } from './render-markdown.ts'
export { renderReport, reportHeadlines } from './render-report.ts'
