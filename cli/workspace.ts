// Finds, makes and opens the workspace that a command works on.
import { existsSync } from 'node:fs'
import { join, resolve } from 'node:path'
import { createLab, DAMAGE_MEND, isLab, openLab, spokenDatabaseError, type Lab, type LabSources } from '@guardband/lab'
import { createIdFactory, SpokenError } from '@guardband/model'
import type { Terminal } from './terminal.ts'

/** Opens the workspace that the option, GUARDBAND_LAB or the current folder names, and closes it after the work. */
export async function withWorkspace(terminal: Terminal, option: string | undefined, work: (lab: Lab) => void | Promise<void>): Promise<void> {
  const lab = openLab(findWorkspace(terminal, option), labSources(terminal))
  try {
    await work(lab)
  } catch (error) {
    // Damage shows when the damaged place is read, whichever command does so.
    throw spokenDatabaseError(lab.folder, error)
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
  try {
    return createLab(folder, { name, currency: input.currency.trim(), who: terminal.who }, labSources(terminal))
  } catch (error) {
    const why = error instanceof Error && 'code' in error ? UNWRITABLE[String(error.code)] : undefined
    if (why === undefined) throw spokenDatabaseError(folder, error)
    throw new SpokenError({ code: 'folder-unwritable', place: folder, message: `the folder can not be made: ${why}.`, mend: 'Choose a folder that you may write to, on a local disk.' })
  }
}

/** What systems answer (errno, POSIX.1) where a folder can't be made. */
const UNWRITABLE: Readonly<Record<string, string>> = {
  EACCES: 'you have no right to write there', EPERM: 'you have no right to write there', EROFS: 'the disk is read-only', ENOSPC: 'the disk is full', EDQUOT: 'your share of the disk is full',
  ENOTDIR: 'a file stands where a folder would have to be', EEXIST: 'a file stands where a folder would have to be', ENOENT: 'the system makes no folders there', ENAMETOOLONG: 'the name is too long',
}

/** As the record of a lab allows. */
const MOST_NAME = 200
const MOST_CURRENCY = 10

/** For a folder that is no workspace: where a database lies in it, the folder was one, and must not be taken for empty. */
export function refuseDamaged(folder: string): void {
  if (!existsSync(join(folder, 'lab.db'))) return
  throw new SpokenError({ code: 'lab-damaged', place: folder, message: 'lab.db is damaged, can not be read, or is of another program.', mend: DAMAGE_MEND })
}

function findWorkspace(terminal: Terminal, option: string | undefined): string {
  const named = option ?? (terminal.env['GUARDBAND_LAB'] || undefined)
  const folder = resolve(terminal.folder, named ?? '.')
  if (isLab(folder)) return folder
  refuseDamaged(folder)
  if (named === undefined) {
    throw new SpokenError({ code: 'no-lab', place: folder, message: 'there is no workspace in the current folder.', mend: 'Name one with --in FOLDER (take: --to), or in GUARDBAND_LAB; make one with: npx guardband new FOLDER --name "NAME".' })
  }
  throw new SpokenError({ code: 'no-lab', place: folder, message: 'there is no workspace in this folder.', mend: `Make one: npx guardband new "${named}" --name "NAME".` })
}
