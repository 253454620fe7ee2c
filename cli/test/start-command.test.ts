// `guardband start`: one line with the address, the same hub found again, and a clean end.
import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { runCli, spawnCli } from './run-cli.ts'

const folder = mkdtempSync(join(tmpdir(), 'guardband-start-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
beforeAll(async () => {
  await runCli({ folder }, 'new', 'lab', '--name', 'Hollin & Pike')
})

interface Started {
  readonly url: string
  readonly stop: () => Promise<number | null>
}

async function startCli(...args: readonly string[]): Promise<Started> {
  const child = spawnCli({ folder }, 'start', ...args, '--no-open')
  let err = ''
  child.stderr.on('data', (part: Buffer) => (err += part.toString()))
  const ended = new Promise<number | null>((resolve) => child.once('exit', (code) => resolve(code)))
  const line = await new Promise<string>((resolve, reject) => {
    child.stdout.once('data', (part: Buffer) => resolve(part.toString()))
    void ended.then((code) => reject(new Error(`start must go on; it ended with ${code}: ${err}`)))
  })
  return {
    url: /^Guardband: (http:\/\/127\.0\.0\.1:\d+\/open\?token=[\w-]{43})\n$/.exec(line)?.[1] ?? `unexpected line: ${line}`,
    stop: () => {
      child.kill('SIGTERM')
      return ended
    },
  }
}

async function open(url: string): Promise<number> {
  return (await fetch(url, { redirect: 'manual' })).status
}

describe('start', () => {
  it('prints an address that opens, gives a second start another one to the same hub, and ends clean', { timeout: 60_000 }, async () => {
    const first = await startCli('lab', '--port', '0')
    const second = await runCli({ folder }, 'start', 'lab', '--no-open')
    expect([second.code, second.err]).toEqual([0, 'This workspace is open already, at:\n'])
    const again = second.out.replace('Guardband: ', '').trim()
    expect(new URL(again).port).toBe(new URL(first.url).port)
    expect(again).not.toBe(first.url)
    expect([await open(first.url), await open(again), await open(again)]).toEqual([200, 200, 401])
    expect(await first.stop()).toBe(0)
    expect(readdirSync(join(folder, 'lab')).filter((name) => name.startsWith('.hub') || name === 'hub.lock')).toEqual([])
  })

  it('says which port to take instead when its own is taken', { timeout: 60_000 }, async () => {
    await runCli({ folder }, 'new', 'second', '--name', 'Second')
    const first = await startCli('lab', '--port', '0')
    const { port } = new URL(first.url)
    const refused = await runCli({ folder, env: { PORT: port } }, 'start', 'second', '--no-open')
    expect([refused.code, refused.out]).toEqual([1, ''])
    const other = Number(port) < 65_535 ? Number(port) + 1 : Number(port) - 1
    expect(refused.err).toBe(`port ${port} is taken by another program. Choose another: npx guardband start second --port ${other}.\n`)
    expect((await runCli({ folder }, 'start', 'second', '--no-open', '--port', port)).err).toBe(refused.err)
    await first.stop()
  })

  it('refuses a folder whose database is damaged as such, not as one without a workspace', async () => {
    mkdirSync(join(folder, 'damaged'))
    writeFileSync(join(folder, 'damaged', 'lab.db'), '')
    expect(await runCli({ folder }, 'start', 'damaged', '--no-open')).toMatchObject({ code: 1, err: expect.stringMatching(/lab\.db is damaged.*Restore a copy/) })
  })

  it('refuses a folder without a workspace and a PORT that is no port', async () => {
    expect(await runCli({ folder }, 'start', 'nowhere', '--no-open')).toMatchObject({ code: 1, err: expect.stringContaining('guardband new nowhere') })
    expect(await runCli({ folder, env: { PORT: 'x' } }, 'start', 'lab', '--no-open')).toMatchObject({ code: 1, err: expect.stringContaining('PORT must be a whole number') })
  })
})
