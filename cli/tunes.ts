// `guardband tunes`: lists the tunes, or prints how two of them differ, in the words of the page.
import { tuneDifference, tuneList, type Lab } from '@guardband/lab'
import { nearest, SpokenError } from '@guardband/model'
import { counted } from '@guardband/model/figures'
import type { Terminal } from './terminal.ts'
import { withWorkspace } from './workspace.ts'
import { wrapLine } from './wrap-line.ts'

export async function tunes(terminal: Terminal, options: { readonly in?: string; readonly a?: string; readonly b?: string }): Promise<void> {
  await withWorkspace(terminal, options.in, (lab) => {
    const { a, b } = options
    if (a === undefined) return listTunes(terminal, lab)
    if (b === undefined) throw new SpokenError({ code: 'one-tune', message: 'a difference needs two tunes; got one.', mend: 'Name both: npx guardband tunes "A" "B".' })
    if (lab.info().lab.simulated) terminal.out('simulated')
    const { difference, notes } = tuneDifference(lab, findTune(lab, a), findTune(lab, b))
    for (const note of notes) terminal.out(note)
    for (const line of difference.text.split('\n')) for (const part of line.startsWith(' ') ? [line] : wrapLine(line, terminal.width)) terminal.out(part)
  })
}

function listTunes(terminal: Terminal, lab: Lab): void {
  const rows = tuneList(lab)
  if (rows.length === 0) return terminal.out('No tunes yet. Enter one on the page, or take in runs that name theirs.')
  if (lab.info().lab.simulated) terminal.out('simulated')
  for (const row of rows) {
    terminal.out(`${row.name}${row.baseName === null ? '' : ` on ${row.baseName}`}  (${counted(row.starts, 'start')}, ${counted(row.runs, 'run')})`)
    for (const line of wrapLine(row.words, terminal.width - 3)) terminal.out(`   ${line}`)
  }
}

/** By name without regard to case, or by id. */
function findTune(lab: Lab, wanted: string): string {
  const all = lab.list('tune')
  const found = all.find(({ id }) => id === wanted) ?? all.find(({ name }) => name === wanted) ?? all.find(({ name }) => name.toLowerCase() === wanted.trim().toLowerCase())
  if (found !== undefined) return found.id
  const near = nearest(wanted, all.map(({ name }) => name))
  throw new SpokenError({ code: 'no-tune', message: `there is no tune "${wanted}".`, mend: near === undefined ? 'npx guardband tunes lists them.' : `Did you mean "${near}"? npx guardband tunes lists them all.` })
}
