// Takes a one-time address to the browser by way of a file that only its owner can read: what a program is started with, every user of the machine can list.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'

export interface OpeningPage {
  readonly file: string
  /** Again does no harm. */
  readonly remove: () => void
}

/** The page forwards to the address. In the workspace, as browsers that are shut in may read a person's folders, but not the system's for temporary files. */
export function writeOpeningPage(workspace: string, url: string): OpeningPage {
  // Made with the mode 0700.
  const folder = mkdtempSync(join(workspace, 'opening-'))
  const remove = (): void => rmSync(folder, { recursive: true, force: true })
  const file = join(folder, 'guardband.html')
  try {
    writeFileSync(file, pageTo(url), { mode: 0o600, flag: 'wx' })
  } catch (error) {
    remove()
    throw error
  }
  return { file, remove }
}

/** Our own addresses hold no character that would need escaping. */
function pageTo(url: string): string {
  if (!/^http:\/\/[\w.:-]+\/open\?token=[\w-]+$/.test(url)) throw new RangeError('url must be one of the hub with a token')
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="color-scheme" content="light dark"><meta name="referrer" content="no-referrer"><meta http-equiv="refresh" content="0; url=${url}"><title>Guardband</title></head>
<body><p><a href="${url}">Open Guardband</a></p></body></html>
`
}
