// `guardband report`: publishes answers as one file.
import { join } from 'node:path'
import { findQuestion } from './find-question.ts'
import type { Terminal } from './terminal.ts'
import { withWorkspace } from './workspace.ts'

export async function publishReport(terminal: Terminal, options: { readonly questions: readonly string[]; readonly in?: string; readonly title?: string }): Promise<void> {
  await withWorkspace(terminal, options.in, async (lab) => {
    const rows = lab.questions()
    const chosen = options.questions.map((named) => findQuestion(rows, named))
    const title = options.title ?? chosen.map((row) => row.title).join('; ').slice(0, MOST_TITLE)
    const report = await lab.publish({ title, questionIds: [...new Set(chosen.map((row) => row.question.id))], who: terminal.who })
    terminal.out(join(lab.folder, 'reports', report.file))
  })
}

/** As long as a name may be. */
const MOST_TITLE = 200
