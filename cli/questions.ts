// `guardband questions`: the questions with their answers in one sentence.
import { headlineText } from '@guardband/model'
import { wrapLine } from './wrap-line.ts'
import type { Terminal } from './terminal.ts'
import { withWorkspace } from './workspace.ts'

export async function questions(terminal: Terminal, options: { readonly in?: string }): Promise<void> {
  await withWorkspace(terminal, options.in, (lab) => {
    const rows = lab.questions()
    if (rows.length === 0) return terminal.out('No questions yet. Ask one: npx guardband ask --faster "B" --than "A"')
    if (lab.info().lab.simulated) terminal.out('simulated')
    for (const [index, row] of rows.entries()) {
      const said = row.headline === null ? 'not computed yet' : headlineText(row.headline)
      terminal.out(`${index + 1}  ${row.title}`)
      for (const line of wrapLine(row.state === 'stale' ? `${said} (before the latest data)` : said, terminal.width - 3)) terminal.out(`   ${line}`)
    }
  })
}
