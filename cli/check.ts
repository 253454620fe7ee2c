// `guardband check`: holds database, hashes, journals, reports and evidence against each other.
import { counted } from '@guardband/model/figures'
import type { Terminal } from './terminal.ts'
import { withWorkspace } from './workspace.ts'

export async function check(terminal: Terminal, options: { readonly in?: string }): Promise<void> {
  await withWorkspace(terminal, options.in, (lab) => {
    const findings = lab.check()
    for (const { place, sentence } of findings) terminal.out(`${place}: ${sentence}`)
    if (findings.length > 0) return terminal.setExitCode(1)
    const { counts, head } = lab.info()
    terminal.out(`Nothing amiss: ${[counted(head, 'change'), counted(counts.starts, 'start'), counted(counts.runs, 'run'), counted(counts.reports, 'report'), ...filed(lab.list('evidence').length)].join(', ')}.`)
  })
}

/** Said only where there is some. */
function filed(count: number): readonly string[] {
  return count === 0 ? [] : [counted(count, 'piece of evidence', 'pieces of evidence')]
}
