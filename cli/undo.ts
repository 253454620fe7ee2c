// `guardband undo`: takes a change back as a new change.
import { SpokenError } from '@guardband/model'
import type { Terminal } from './terminal.ts'
import { withWorkspace } from './workspace.ts'

export async function undo(terminal: Terminal, options: { readonly seq: string; readonly in?: string; readonly why: string }): Promise<void> {
  if (!/^[1-9]\d{0,14}$/.test(options.seq)) {
    throw new SpokenError({ code: 'change-number', message: `a change has a whole number above 0; got "${options.seq}".`, mend: '"npx guardband log" lists them.' })
  }
  await withWorkspace(terminal, options.in, (lab) => {
    const change = lab.undo(Number(options.seq), { who: terminal.who, why: options.why })
    terminal.out(`Change ${options.seq} is taken back by change ${change}.`)
  })
}
