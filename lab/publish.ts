// Freezes answers and their snapshots into a numbered one-file report. Both files are on disk before the record names them.
import { existsSync } from 'node:fs'
import path from 'node:path'
import { canonicalJson, sha256Hex, LONGEST_WHAT, SpokenError, type Answer, type Report, type Snapshot } from '@guardband/model'
import type { AnswerDesk } from './answers/answer-desk.ts'
import { writeDurably } from './files.ts'
import { labRecord, momentNow, type LabCore } from './lab-core.ts'
import type { SnapshotBook } from './snapshots/snapshot-book.ts'

export const REPORTS_FOLDER = 'reports'

export async function publishReport(
  { core, book, desk }: { readonly core: LabCore; readonly book: SnapshotBook; readonly desk: AnswerDesk },
  input: { readonly title: string; readonly questionIds: readonly string[]; readonly who: string },
): Promise<Report> {
  if (input.questionIds.length === 0) throw new SpokenError({ code: 'empty-report', message: 'a report must hold at least one question; got none.' })
  const render = core.sources.renderReport ?? (await import('@guardband/report')).renderReport
  const frozen: { readonly questionId: string; readonly answer: Answer; readonly snapshot: Snapshot }[] = []
  for (const questionId of new Set(input.questionIds)) {
    const { snapshot, digest } = book.of(questionId)
    const answer = await desk.answer(questionId, undefined)
    if (answer.snapshotDigest !== digest) {
      throw new SpokenError({ code: 'changed-meanwhile', message: 'runs came in while the report was being made.', mend: 'Publish again.' })
    }
    frozen.push({ questionId, answer, snapshot })
  }
  return core.transact(() => {
    const number = Math.max(0, ...core.store.list('report').map((report) => report.number)) + 1
    const at = momentNow(core)
    const html = render({ title: input.title, lab: labRecord(core), at, number, answers: frozen.map(({ answer }) => answer) })
    const base = freeName(core.folder, number, slug(input.title))
    writeDurably(path.join(core.folder, REPORTS_FOLDER, `${base}.snapshots.json`), canonicalJson(frozen.map(({ snapshot }) => snapshot)))
    writeDurably(path.join(core.folder, REPORTS_FOLDER, `${base}.html`), html)
    const report: Report = {
      kind: 'report',
      id: core.sources.newId(),
      title: input.title,
      number,
      at,
      file: `${base}.html`,
      fileDigest: sha256Hex(html),
      answers: frozen.map(({ questionId, answer }) => ({ questionId, snapshotDigest: answer.snapshotDigest })),
    }
    core.log.write({ who: input.who, what: `Published report ${number}: ${input.title}`.slice(0, LONGEST_WHAT), items: [{ before: null, after: report }] })
    return report
  })
}

/** The snapshots that stand beside a report's page. */
export function snapshotsFile(report: Pick<Report, 'file'>): string {
  return report.file.replace(/\.html$/, '.snapshots.json')
}

const LONGEST_SLUG = 60

/** Lower-case letters, digits and hyphens of the title, so that the name works in every file system and address. */
function slug(title: string): string {
  const plain = title
    .normalize('NFKD')
    .toLowerCase()
    .replaceAll(/\p{M}/gu, '')
    .replaceAll(/[^a-z0-9]+/g, '-')
    .slice(0, LONGEST_SLUG)
    .replaceAll(/^-+|-+$/g, '')
  return plain === '' ? 'report' : plain
}

/** A taken-back or interrupted publication may have left its file; a published file is never written over. */
function freeName(folder: string, number: number, title: string): string {
  for (let again = 1; ; again++) {
    const base = again === 1 ? `${number}-${title}` : `${number}-${title}-${again}`
    if (!existsSync(path.join(folder, REPORTS_FOLDER, `${base}.html`))) return base
  }
}
