// Finds, makes and opens the workspace that a command works on.
import { resolve } from 'node:path'
import { createLab, isLab, openLab, type Lab, type LabSources } from '@guardband/lab'
import { createIdFactory, SpokenError } from '@guardband/model'
import type { Terminal } from './terminal.ts'

/** Opens the workspace that the option, GUARDBAND_LAB or the current folder names, and closes it after the work. */
export async function withWorkspace(terminal: Terminal, option: string | undefined, work: (lab: Lab) => void | Promise<void>): Promise<void> {
  const lab = openLab(findWorkspace(terminal, option), labSources(terminal))
  try {
    await work(lab)
  } finally {
    await lab.close()
  }
}

export function labSources(terminal: Pick<Terminal, 'now' | 'fillRandom'>): LabSources {
  return { now: terminal.now, newId: createIdFactory(terminal) }
}

export function makeWorkspace(terminal: Terminal, folder: string, input: { readonly name: string; readonly currency: string }): Lab {
  const name = input.name.trim()
  if (name === '' || name.length > MOST_NAME) throw new SpokenError({ code: 'lab-name', message: `the name must have 1 to ${MOST_NAME} characters; got ${name.length}.` })
  if (input.currency.trim().length > MOST_CURRENCY) throw new SpokenError({ code: 'lab-currency', message: `the currency must have at most ${MOST_CURRENCY} characters.` })
  return createLab(folder, { name, currency: input.currency.trim(), who: terminal.who }, labSources(terminal))
}

/** As the record of a lab allows. */
const MOST_NAME = 200
const MOST_CURRENCY = 10

function findWorkspace(terminal: Terminal, option: string | undefined): string {
  const named = option ?? (terminal.env['GUARDBAND_LAB'] || undefined)
  const folder = resolve(terminal.folder, named ?? '.')
  if (isLab(folder)) return folder
  if (named === undefined) {
    throw new SpokenError({ code: 'no-lab', place: folder, message: 'there is no workspace in the current folder.', mend: 'Name one with --in FOLDER (take: --to), or in GUARDBAND_LAB; make one with: npx guardband new FOLDER --name "NAME".' })
  }
  throw new SpokenError({ code: 'no-lab', place: folder, message: 'there is no workspace in this folder.', mend: `Make one: npx guardband new "${named}" --name "NAME".` })
}
