// `guardband log`: the change log, newest first.
import type { Terminal } from './terminal.ts'
import { withWorkspace } from './workspace.ts'

export async function changeLog(terminal: Terminal, options: { readonly in?: string; readonly count: number }): Promise<void> {
  await withWorkspace(terminal, options.in, (lab) => {
    let left = options.count
    let before: number | undefined
    while (left > 0) {
      const page = lab.changes({ count: Math.min(left, PAGE), ...(before === undefined ? {} : { before }) })
      for (const { seq, at, who, what, why, undoes } of page) {
        const reason = why === undefined || why === '' ? '' : `: ${why}`
        terminal.out(`${String(seq).padStart(5)}  ${at.slice(0, 19).replace('T', ' ')}  ${who}  ${what}${undoes === undefined ? '' : ` (undoes ${undoes})`}${reason}`)
      }
      before = page.at(-1)?.seq
      left -= page.length
      if (page.length === 0 || before === undefined || before <= 1) break
    }
  })
}

const PAGE = 200
