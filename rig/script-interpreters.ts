// The programs behind a script's first line ("#!"): what really runs when the script is started.
import { closeSync, openSync, readSync, realpathSync, statSync } from 'node:fs'
import { delimiter, isAbsolute, join } from 'node:path'

/** In the order in which the kernel goes through them; empty for a program that is no script. `path` is the PATH that it will get. */
export function scriptInterpreters(program: string, path: string): readonly string[] {
  const found: string[] = []
  for (let at: string | null = program; at !== null && found.length <= MOST;) {
    const line = firstLine(at)
    const [interpreter, ...words] = line === null ? [] : line.trim().split(/[ \t]+/)
    at = interpreter === undefined || interpreter === '' ? null : realProgram(interpreter)
    if (at === null) break
    found.push(at)
    // `env` looks the program up in PATH by itself: `#!/usr/bin/env -S node --flag`.
    const named = /(?:^|\/)env$/.test(interpreter) ? words.find((word) => !word.startsWith('-') && !word.includes('=')) : undefined
    const sought = named === undefined ? undefined : named.includes('/') ? realProgram(named) : path.split(delimiter).filter(isAbsolute).map((folder) => realProgram(join(folder, named))).find((each) => each !== null)
    if (sought !== undefined && sought !== null) {
      found.push(sought)
      at = sought
    }
  }
  return found
}

/** The kernel gives up sooner: five, execve(2) under ELOOP. */
const MOST = 10
/** Of the first line the kernel reads so much (BINPRM_BUF_SIZE). */
const LINE_LIMIT = 256

/** What stands behind "#!"; null where the file doesn't begin so. */
function firstLine(program: string): string | null {
  const file = openSync(program, 'r')
  try {
    const bytes = Buffer.alloc(LINE_LIMIT)
    const text = bytes.subarray(0, readSync(file, bytes, 0, LINE_LIMIT, 0)).toString('utf8')
    return text.startsWith('#!') ? text.slice(2).split('\n', 1)[0] : null
  } finally {
    closeSync(file)
  }
}

function realProgram(path: string): string | null {
  try {
    return statSync(path).isFile() ? realpathSync(path) : null
  } catch {
    return null
  }
}
