/** Starts the demo, or another workspace, on a free port and waits until it says where it listens. */
import { execFileSync, spawn } from 'node:child_process'

export type RunningLab = {
  /** With the one-time token, as the command prints it. */
  readonly url: string
  readonly stop: () => Promise<void>
}

/** Starting includes building the demo workspace where there is none yet. */
const patienceMs = 60_000

export function startDemo(root: string): Promise<RunningLab> {
  return startIn(root, [])
}

/** A workspace that nothing has been put into yet, in `folder`. */
export function startEmpty(root: string, folder: string): Promise<RunningLab> {
  execFileSync(process.execPath, ['cli/main.ts', 'new', folder, '--name', 'Nothing yet'], { cwd: root, stdio: ['ignore', 'ignore', 'inherit'] })
  return startIn(root, [folder])
}

function startIn(root: string, args: readonly string[]): Promise<RunningLab> {
  const child = spawn(process.execPath, ['cli/main.ts', 'start', ...args, '--no-open'], {
    cwd: root,
    env: { ...process.env, PORT: '0' },
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  const ended = new Promise<void>((resolve) => child.on('close', () => resolve()))
  return new Promise((resolve, reject) => {
    let said = ''
    const late = setTimeout(() => giveUp(`said no address within ${patienceMs / 1000} s`), patienceMs)
    const giveUp = (reason: string) => {
      clearTimeout(late)
      child.kill()
      reject(new Error(`The workspace ${reason}. It said:\n${said}`))
    }
    const listen = (part: unknown) => {
      said += String(part)
      const url = /https?:\/\/127\.0\.0\.1:\d+\/\S*/.exec(said)?.[0]
      // A chunk can end within the address.
      if (url === undefined || said.endsWith(url)) return
      clearTimeout(late)
      resolve({
        url,
        stop: () => {
          child.kill()
          return ended
        },
      })
    }
    child.stdout.on('data', listen)
    child.stderr.on('data', listen)
    child.on('error', (error) => giveUp(`could not be started: ${error.message}`))
    void ended.then(() => giveUp('ended'))
  })
}
