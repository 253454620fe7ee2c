/** Finds the browser that page tests and photographs use. */
import { accessSync, constants } from 'node:fs'
import { delimiter, join } from 'node:path'

/** As a system's package names it. */
const names = ['chromium', 'chromium-browser']

/** What `CHROMIUM` names, else the first on the path; undefined where there is none. */
export function findChromium(env: Readonly<Record<string, string | undefined>>): string | undefined {
  const told = env['CHROMIUM']
  if (told !== undefined && told !== '') return isProgram(told) ? told : undefined
  const folders = (env['PATH'] ?? '').split(delimiter).filter((folder) => folder !== '')
  return folders.flatMap((folder) => names.map((name) => join(folder, name))).find(isProgram)
}

/** For containers, where it runs as root without a display; all of it keeps the browser from talking to anybody. */
export const chromiumFlags: readonly string[] = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
]

function isProgram(path: string): boolean {
  try {
    accessSync(path, constants.X_OK)
    return true
  } catch {
    return false
  }
}
