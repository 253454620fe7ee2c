// `guardband check`: holds database, hashes and journals against each other.
import { counted } from '@guardband/model/figures'
import type { Terminal } from './terminal.ts'
import { withWorkspace } from './workspace.ts'

export async function check(terminal: Terminal, options: { readonly in?: string }): Promise<void> {
  await withWorkspace(terminal, options.in, (lab) => {
    const findings = lab.check()
    for (const { place, sentence } of findings) terminal.out(`${place}: ${sentence}`)
    if (findings.length > 0) return terminal.setExitCode(1)
    const { counts, head } = lab.info()
    terminal.out(`Nothing amiss: ${[counted(head, 'change'), counted(counts.starts, 'start'), counted(counts.runs, 'run'), counted(counts.reports, 'report')].join(', ')}.`)
  })
}
